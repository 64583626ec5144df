"""What is known of a clip's lens: from a profile where there is one, else from metadata and usual phones."""

from __future__ import annotations

from dataclasses import dataclass

from puttvision.clip.facts import ClipFacts
from puttvision.green.pose import LensPrior
from puttvision.putt.assemble import Readout


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownLens:
    """A lens profile as a clip is measured with it."""

    name: str
    prior: LensPrior
    readout: Readout | None
    """None where the profile does not know it."""


def lens_prior(lens: KnownLens | None, facts: ClipFacts) -> LensPrior | None:
    """What a pose starts from; None for a usual phone's main camera."""
    if lens is not None:
        return lens.prior
    return LensPrior.from_focal_35mm(facts.focal_35mm) if facts.focal_35mm else None


def readout_prior(interval_s: float) -> Readout:
    """Recent phones read a frame in 4 to 16 ms and never in more than its period (from memory)."""
    seconds = min(0.010, 0.6 * interval_s)
    return Readout(seconds=seconds, u_seconds=0.3 * seconds)


def sensor_readout(lens: KnownLens | None, facts: ClipFacts) -> Readout:
    """The read-out time of the profile, else the prior for the clip's frame rate."""
    if lens is not None and lens.readout is not None:
        return lens.readout
    return readout_prior(1 / facts.nominal_rate_hz)


def lens_notes(lens: KnownLens | None) -> tuple[str, ...]:
    """One line that says which profile was used."""
    return () if lens is None else (f"measured with the lens profile {lens.name}",)
