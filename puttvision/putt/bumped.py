"""Putts during which the tripod was moved: what is measured of them needs a person's eye."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from puttvision.putt.assemble import MeasuredPutt
from puttvision.putts import Putt

_TOLD_LATE_S = 0.25
"""A bump is noticed within so much: until then the ball seems to jump."""
_SURE = 0.5
"""No call of such a putt is surer than this."""


def marked_if_bumped(measured: Sequence[MeasuredPutt], bumps_s: Sequence[float]) -> tuple[Putt, ...]:
    """The putts; those that rolled while the tripod was moved are marked for a look."""
    return tuple(_marked(item, bumps_s) for item in measured)


def _marked(item: MeasuredPutt, bumps_s: Sequence[float]) -> Putt:
    start_s, end_s = item.putt.start_s.value, float(item.cut.track.time_s[-1])
    if start_s is None or not any(start_s <= at_s <= end_s + _TOLD_LATE_S for at_s in bumps_s):
        return item.putt
    why = "the tripod was moved while the ball rolled"
    confidence = None if item.putt.confidence is None else min(item.putt.confidence, _SURE)
    return replace(item.putt, confidence=confidence, review=(*item.putt.review, why))
