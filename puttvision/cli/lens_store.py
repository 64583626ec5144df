"""Lens profiles on this computer: one small file each, saved by phone, lens and video mode."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from platformdirs import user_config_path

from puttvision.clip.facts import ClipFacts
from puttvision.errors import PuttvisionError
from puttvision.files import write_json
from puttvision.green.lens import Lens
from puttvision.putt.assemble import Readout
from puttvision.putt.known_lens import KnownLens

FORMAT = "puttvision-lens/1"
_NAME = re.compile(r"[a-z0-9][a-z0-9._-]{0,59}")
_SAME_RATE, _SAME_FOCAL_MM, _SAME_ASPECT = 0.02, 0.6, 0.005


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """A measured lens with what it was measured on."""

    name: str
    phone: str | None
    focal_35mm: float | None
    rate_hz: float
    lens: Lens
    readout_s: float | None = None
    u_readout_s: float | None = None

    def known(self, facts: ClipFacts) -> KnownLens:
        """The profile for a clip; its long side may have another number of pixels, or stand upright."""
        prior = self.lens.prior()
        if (facts.width > facts.height) != (self.lens.width > self.lens.height):
            # held the other way: what is not alike on both axes is small, and taken as not known
            prior = replace(
                prior, centre_share=(0.0, 0.0), u_centre_share=max(0.003, prior.u_centre_share),
                more=(0.0, 0.0, *prior.more[2:]),
            )  # fmt: skip
        readout = None
        if self.readout_s is not None and self.u_readout_s is not None:
            readout = Readout(seconds=self.readout_s, u_seconds=self.u_readout_s)
        return KnownLens(name=self.name, prior=prior, readout=readout)


def folder() -> Path:
    """Where profiles lie."""
    return user_config_path("puttvision", appauthor=False) / "lenses"


def save(profile: Profile) -> Path:
    """Write a profile; one of the same name is replaced. Raises PuttvisionError."""
    path = _path(profile.name)
    data = {key: value for key, value in asdict(profile).items() if key != "lens"}
    write_json(path, {"format": FORMAT, **data, "lens": asdict(profile.lens)})
    return path


def load(name: str) -> Profile:
    """Read a profile by its name. Raises PuttvisionError where there is none or it is broken."""
    path = _path(name)
    if not path.exists():
        names = ", ".join(p.name for p in all_profiles()) or "none yet: `puttvision lens make CLIP` makes one"
        raise PuttvisionError(f'no lens profile "{name}"; there are: {names}')
    return _read(path)


def remove(name: str) -> None:
    """Remove a profile."""
    load(name)
    _path(name).unlink()


def all_profiles() -> list[Profile]:
    """Every profile that can be read, by name; broken ones are left alone."""
    out = []
    for path in sorted(folder().glob("*.json")):
        try:
            out.append(_read(path))
        except PuttvisionError:
            continue
    return out


def known_lens(facts: ClipFacts, name: str | None) -> KnownLens | None:
    """The lens of a clip: the profile of that name, else the one that its metadata points to, else None.

    Without a name, phone, lens and video mode must all agree, and only one profile may do so: a lens is never
    guessed. Raises PuttvisionError for a name that is not there or a picture of another shape.
    """
    if name is not None:
        profile = load(name)
        shapes = [max(w, h) / min(w, h) for w, h in ((facts.width, facts.height), _size(profile))]
        if abs(shapes[0] / shapes[1] - 1) > _SAME_ASPECT:
            width, height = _size(profile)
            raise PuttvisionError(
                f"lens profile {name} is for a picture of {width}x{height}, this clip has {facts.width}x"
                f"{facts.height}: make a profile in this video mode"
            )
        return profile.known(facts)
    fitting = [profile for profile in all_profiles() if _fits(profile, facts)]
    return fitting[0].known(facts) if len(fitting) == 1 else None


def default_name(facts: ClipFacts) -> str:
    """A name from phone, lens and mode, such as ``q7-26mm-1920x1080-60``."""
    parts = [facts.phone or "phone"]
    if facts.focal_35mm:
        parts.append(f"{facts.focal_35mm:.0f}mm")
    parts += [f"{facts.width}x{facts.height}", f"{facts.nominal_rate_hz:.0f}"]
    return re.sub(r"[^a-z0-9.]+", "-", "-".join(parts).lower()).strip("-.")[:60]


def _size(profile: Profile) -> tuple[int, int]:
    return profile.lens.width, profile.lens.height


def _fits(profile: Profile, facts: ClipFacts) -> bool:
    if profile.phone is None or profile.phone != facts.phone:
        return False
    if (profile.focal_35mm is None) != (facts.focal_35mm is None):
        return False
    if (
        profile.focal_35mm
        and facts.focal_35mm
        and abs(profile.focal_35mm - facts.focal_35mm) > _SAME_FOCAL_MM
    ):
        return False
    same_size = sorted(_size(profile)) == sorted((facts.width, facts.height))
    return same_size and abs(profile.rate_hz / facts.nominal_rate_hz - 1) < _SAME_RATE


def _path(name: str) -> Path:
    if not _NAME.fullmatch(name):
        raise PuttvisionError(
            f'"{name}" is no name for a lens profile: small letters, digits, points and dashes, 60 at most'
        )
    return folder() / f"{name}.json"


def _read(path: Path) -> Profile:
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        lens, size = data["lens"], [data["lens"]["width"], data["lens"]["height"]]
        numbers = [lens[k] for k in ("f_share", "u_f_share", "u_centre_share", "rms_px", "sees_share")]
        numbers += [*lens["centre_share"], *lens["coefficients"], data["rate_hz"]]
        optional = [data.get(k) for k in ("focal_35mm", "readout_s", "u_readout_s")]
        numbers += [number for number in optional if number is not None]
        whole = all(isinstance(n, (int, float)) and math.isfinite(n) for n in numbers)
        if data["format"] != FORMAT or not whole or not all(isinstance(n, int) and n > 0 for n in size):
            raise ValueError
        if lens["f_share"] <= 0 or data["rate_hz"] <= 0 or len(lens["coefficients"]) != 8:
            raise ValueError
        return Profile(
            name=path.stem,
            phone=_text(data.get("phone")),
            focal_35mm=data.get("focal_35mm"),
            rate_hz=float(data["rate_hz"]),
            lens=_lens(lens),
            readout_s=data.get("readout_s"),
            u_readout_s=data.get("u_readout_s"),
        )
    except OSError as err:
        raise PuttvisionError(f"cannot read {path}: {err.strerror or err}") from err
    except (ValueError, KeyError, TypeError, RecursionError) as err:
        raise PuttvisionError(
            f"{path} is no lens profile: make it again with `puttvision lens make`"
        ) from err


def _text(raw: Any) -> str | None:
    return raw if isinstance(raw, str) else None


def _lens(lens: Mapping[str, Any]) -> Lens:
    x, y = lens["centre_share"]
    return Lens(
        width=lens["width"],
        height=lens["height"],
        f_share=float(lens["f_share"]),
        u_f_share=float(lens["u_f_share"]),
        centre_share=(float(x), float(y)),
        u_centre_share=float(lens["u_centre_share"]),
        coefficients=tuple(float(c) for c in lens["coefficients"]),
        model=str(lens["model"]),
        rms_px=float(lens["rms_px"]),
        n_views=int(lens["n_views"]),
        sees_share=float(lens["sees_share"]),
    )
