"""The folder in which measured clips lie: one folder a clip, known to the page by an id, never by its path.

A clip's folder holds the clip, ``putts.json`` once it is measured, ``scene.json`` for the overlay, and
``review.json``: what the page knows of it. A folder that ``puttvision measure --out`` wrote is one, too.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from puttvision.errors import PuttvisionError
from puttvision.files import write_json
from puttvision.putts import PuttSheet, load

PUTTS_FILE, SCENE_FILE, ABOUT_FILE, PREVIEW_FILE = "putts.json", "scene.json", "review.json", "preview.mp4"
COMING = ".coming-"
"""Names of files that are still being received begin so."""
CLIP_KINDS = {".mp4": "video/mp4", ".m4v": "video/mp4", ".mov": "video/quicktime"}


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """What the page keeps of a clip beside its putts."""

    name: str = ""
    """The file's name on the coach's phone; shown, never used as a path."""
    player: str = ""
    day: str = ""
    """ISO date it was filmed."""
    drill: str = ""
    drill_options: dict[str, Any] = field(default_factory=dict)
    consent: bool = False
    """The coach said that everyone in the picture agreed to being filmed."""
    session: int | None = None
    """The journal's session, once it is kept."""
    journal: str = ""
    """The journal that it is kept in."""
    error: str = ""
    """Why the last measuring gave nothing, in one line."""
    by_hand: dict[str, Any] = field(default_factory=dict)
    """Hole, gate and sheet corners as a person placed them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A clip's folder."""

    id: str
    folder: Path
    about: About

    @property
    def is_measured(self) -> bool:
        return (self.folder / PUTTS_FILE).is_file()

    @property
    def clip(self) -> Path | None:
        """The clip in this folder, or beside it where ``measure`` left only the name."""
        for path in sorted(self.folder.glob("clip.*")):
            if path.suffix.lower() in CLIP_KINDS:
                return path
        name = self._clip_name()
        for folder in (self.folder, self.folder.parent):
            path = folder / name
            if name and path.suffix.lower() in CLIP_KINDS and path.is_file():
                return path
        return None

    def sheet(self) -> PuttSheet:
        """The putts as measured; PuttvisionError where there are none."""
        return load(self.folder / PUTTS_FILE)

    @property
    def title(self) -> str:
        return self.about.name or self._clip_name() or self.folder.name

    def _clip_name(self) -> str:
        try:
            clip = self.sheet().clip
        except PuttvisionError:
            return ""
        return Path(clip.file).name if clip else ""


def forget(clip: Path) -> None:
    """Remove what the page kept beside a clip of a player who is forgotten: the name and every copy.

    What was measured goes too, once the clip itself is gone. Folders that are not the page's are left alone.
    """
    folder = clip.parent
    if clip.stem != "clip" or not (folder / ABOUT_FILE).is_file():
        return
    names = [PREVIEW_FILE, ABOUT_FILE]
    if not clip.exists():
        names += [PUTTS_FILE, SCENE_FILE]
    for name in names:
        (folder / name).unlink(missing_ok=True)
    with suppress(OSError):  # something else lies in it
        folder.rmdir()


class Shelf:
    """All clips of one folder."""

    def __init__(self, root: Path) -> None:
        self.root = root.resolve()

    def all(self) -> list[Kept]:
        """Every clip, newest folder first."""
        found = [self._kept(folder) for folder in self._folders()]
        return sorted(found, key=lambda kept: kept.folder.stat().st_mtime, reverse=True)

    def get(self, clip_id: str) -> Kept | None:
        """The clip of an id; None where there is none. The id is compared, never put into a path."""
        for folder in self._folders():
            if self.id_of(folder) == clip_id:
                return self._kept(folder)
        return None

    def of_session(self, session: int, journal: str) -> Kept | None:
        """The clip that a session of that journal was kept from."""
        for kept in self.all():
            if kept.about.session == session and kept.about.journal == journal:
                return kept
        return None

    def id_of(self, folder: Path) -> str:
        """Stable for a folder, and says nothing about its place."""
        name = folder.relative_to(self.root).as_posix()
        return hashlib.sha256(name.encode()).hexdigest()[:16]

    def coming(self) -> Path:
        """A new name for a file that is being received."""
        self.root.mkdir(parents=True, exist_ok=True)
        return self.root / f"{COMING}{secrets.token_hex(8)}"

    def take_in(self, received: Path, suffix: str, about: About) -> Kept:
        """Give a received clip a folder of its own."""
        if suffix not in CLIP_KINDS:
            raise ValueError(f"one of {sorted(CLIP_KINDS)} was due, got {suffix}")
        stamp = datetime.now().strftime("%Y%m%d-%H%M%S")
        folder = self.root / f"{stamp}-{secrets.token_hex(3)}"
        folder.mkdir()
        received.replace(folder / f"clip{suffix}")
        write_json(folder / ABOUT_FILE, asdict(about))
        return self._kept(folder)

    def note(self, kept: Kept, **changes: Any) -> Kept:
        """Change what is known of a clip."""
        about = replace(self._kept(kept.folder).about, **changes)
        write_json(kept.folder / ABOUT_FILE, asdict(about))
        return replace(kept, about=about)

    def sweep(self) -> None:
        """Remove what an upload that broke off left behind."""
        for path in self.root.glob(f"{COMING}*"):
            path.unlink(missing_ok=True)

    def _folders(self) -> Iterator[Path]:
        if not self.root.is_dir():
            return
        for folder in (self.root, *sorted(self.root.iterdir())):
            if folder.is_dir() and any((folder / name).is_file() for name in (PUTTS_FILE, ABOUT_FILE)):
                yield folder

    def _kept(self, folder: Path) -> Kept:
        about = About()
        with suppress(OSError, ValueError, TypeError):
            data = json.loads((folder / ABOUT_FILE).read_text(encoding="utf-8"))
            known = {key: value for key, value in data.items() if key in About.__dataclass_fields__}
            about = About(**known)
        return Kept(id=self.id_of(folder), folder=folder, about=about)
