"""Whether what was fitted is a ball, and clear enough to be taken for one at rest."""

from __future__ import annotations

import numpy as np

from puttvision.ball.inside import Inside
from puttvision.ball.outline import RAYS, Outline
from puttvision.ball.rim import Rim, Step
from puttvision.ball.shading import Shading

_LEAST_SEEN = 0.3
"""Share of the outline that has to be seen."""
_LEAST_EXPECTED = 0.2
"""The same of a ball that is under way and expected there: of a low sun's, the lit limb is enough."""
_LEAST_CRESCENT, _CRESCENT = 0.17, 0.5
"""The same where the sun lights but a crescent, and about how much of the outline such a crescent shows."""
_LEAST_CLEAN = 0.7
"""Share of the rays, weighed by how they stand out, where the lit limb should show that do show it: a shoe's
edge lies elsewhere."""
_LEAST_CONTRAST, _LEAST_DIM_CONTRAST, _DIM = 0.4, 0.6, 0.4
"""Contrast of a ball's rim with the grass; the second for what is darker than this share of the clip's balls:
in shade, where the grass is dark too, or grass taken for a ball (up to 0.55, measured on filmed scenes)."""
_WORST_SHADING, _WORST_OTHER_LIGHT = 0.15, 0.33
"""Root mean square misfit of a ball's inside over that of its light, lines and letters on it left out; and
the same under the light learnt before, which a cloud or the player's shadow may have changed."""
_CLEAR_SHARE, _CLEAR_FLOOR_PX = 0.045, 0.2
"""A clear fit's spread of edges: a share of the radius and pixels on top."""
_CLEAR_FROM, _CLEAR_OVER, _LIT_OVER = 0.25, 0.3, 0.15
"""Share of the outline seen from which on it is clear, and over how much more it fully counts; the last for
what is as bright as the clip's balls, of which a putter's head may hide a half."""
_IN_SHADE = 0.3
"""What is darker than this share of the clip's balls is in shade, or no ball.
All of these measured on filmed scenes, on balls at rest and on shoes that were taken for them."""


def is_ball(
    outline: Outline, inside: Inside, rim: Rim, step: Step, known: Shading | None, *, expected: bool = False
) -> bool:
    """Whether what was fitted looks like a ball, and from more than one side.

    ``expected``: a ball under way is to be seen there.
    """
    n_good = np.count_nonzero(rim.good)
    least = _LEAST_EXPECTED if expected else _LEAST_SEEN
    if _is_crescent(rim):
        least = _LEAST_CRESCENT
    if step.spread_px > 0.10 * outline.radius_px + 0.30 or n_good < least * RAYS:
        return False
    dim = known is not None and inside.lights.sum() < _DIM * sum(known.lights)
    if rim.contrast < (_LEAST_DIM_CONTRAST if dim else _LEAST_CONTRAST):
        return False
    if float(rim.weight[rim.good].sum()) < _LEAST_CLEAN * float(rim.weight[rim.usable].sum()):
        return False
    if np.abs(outline.normal[rim.good].sum(axis=0)).max() > 0.5 * RAYS:
        return False
    if known is None and not is_clear(outline, inside, rim, step, None):
        return False
    return inside.misfit() <= (_WORST_SHADING if known is None else _WORST_OTHER_LIGHT)


def is_clear(
    outline: Outline,
    inside: Inside,
    rim: Rim,
    step: Step,
    known: Shading | None,
    u_edge_px: float = 0.0,
) -> bool:
    """A shoe or a putter's head shows a ball's edge on one side only, or but roughly, and often in shade.

    ``u_edge_px``: by how much edges in the picture may lie off, over those in luma.
    """
    in_light = known is not None and inside.lights.sum() > _IN_SHADE * sum(known.lights)
    seen = rim.seen / (_CRESCENT if _is_crescent(rim) else 1.0)
    enough = min((seen - _CLEAR_FROM) / (_LIT_OVER if in_light else _CLEAR_OVER), 1.0)
    floor_px = _CLEAR_FLOOR_PX + rim.u_spill_px / 2 + u_edge_px
    return step.spread_px < (_CLEAR_SHARE * outline.radius_px + floor_px) * enough


def _is_crescent(rim: Rim) -> bool:
    """Whether the sun lights so little of the outline that no more can be seen."""
    return bool(_LEAST_CLEAN * np.count_nonzero(rim.usable) < _LEAST_SEEN * RAYS)
