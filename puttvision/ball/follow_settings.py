"""Numbers of finding and following balls through a clip, each with what it rests on."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowSettings:
    """See each."""

    scan_s: float = 0.3
    """Balls at rest are looked for this often; a player takes seconds over a ball."""
    doubt_s: float = 1.2
    """A ball found once has to be found again at its place within so long."""
    doubts: int = 80
    """So many bright patches that were no balls are remembered and not looked at again."""
    again_s: float = 0.5
    """What is nearly a ball is looked at again after so long: it may have been rolling, or in a shadow."""
    anew_s: float = 1.5
    """So often the whole picture is searched and what was no ball looked at anew, as a putter may have stood
    behind it; in between, where the picture has changed."""
    lie_fits: int = 12
    """A ball at rest is fitted so often; more fits of the same pixels tell nothing new."""
    still_m: float = 0.004
    """A ball that lies within this of where it lay has not moved; a fit is good to about 1 mm."""
    changed_luma: int = 18
    """A pixel that differs by more has changed; sensor noise and compression stay below."""
    watch_share: float = 0.07
    """Share of a ball's patch that must have changed to look closer."""
    settle_s: float = 0.15
    """A ball that was nudged by less than its radius lies still at the new place for so long."""
    fastest_m_s: float = 6.0
    """No putt leaves the putter faster: 6 m/s rolls 30 m on an everyday green."""
    slowest_m_s: float = 0.15
    """Slower than this rolls 2 cm: the ball is at rest, or something else moves."""
    search_m: float = 0.8
    """A ball that has left its place is looked for within this of it: four frames in 30 a second, and more
    where the plane is seen so flat that lengths on it are unsure."""
    keen_s: float = 0.3
    """A ball out of sight is looked for in every frame for so long, then in every other."""
    patient_s: float = 0.8
    glance_s: float = 0.045
    """After the first it is looked for no more often than this: a hand has it, most likely."""
    exposure_s: float = 0.0025
    """Outdoors a phone exposes for 1/250 s to 1/1000 s; sets the smear that is allowed for."""
    thorough_m: float = 1.2
    """Within this of where it lay, and near the hole, a ball under way is looked for in every frame: the
    start line, posts and the rim are there. In between it keeps its way."""
    glide_s: float = 0.022
    """In between no sooner than this after the last look: 60 frames a second show what 30 do."""
    lost_s: float = 0.8
    """A followed ball that stays unseen for so long is lost."""
    lost_early_s: float = 0.3
    """The same in the first hand's breadth, where it is not sure to be the ball."""
    hidden_s: float = 3.0
    """A ball that something hides is waited for so long at its place."""
    rest_s: float = 0.35
    rest_m: float = 0.002
    """At rest: within this over that time."""
    travel_m: float = 0.10
    """A roll that went less far is a nudge."""
    regret_s: float = 0.6
    """A ball found back at its place so soon after it seemed to leave has not left."""
    reference_s: float = 0.25
    """What is newly bright is told against a frame at least this old."""
