"""The balls of a clip that tell the light on them, and what of a ball is bright in it."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from operator import itemgetter

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.ball.bright_part import ALL_WHOLE, BrightParts, bright_part
from puttvision.ball.colour import FrameColour, GrassHue
from puttvision.ball.disc import BallFit
from puttvision.ball.finder import REACH_PX, FinderSettings, NoBall, ball_radius_px, find_balls, shrunk
from puttvision.ball.light import Light, learn_light, suns_beyond
from puttvision.ball.look import Look
from puttvision.ball.shading import Shading
from puttvision.green.camera import Camera
from puttvision.green.edges import linear_light
from puttvision.green.site import Site
from puttvision.physics import BALL_RADIUS_M

Picture = tuple[NDArray[np.uint8], NDArray[np.uint8], NDArray[np.uint8]]
"""Luma, Cb, Cr."""

_SHADING_LOOKS = 4
_SHADING_ENOUGH = 6
"""So many looks at balls whose suns agree settle the light."""
_SHADING_FEWEST = 2
"""Where so few are found, all pictures are searched, by colour as well."""
_WELL_SEEN, _WELL_LIT = 0.45, 0.6
"""Median share of outline seen, light as a share of white: balls in the sun or under an overcast sky."""
_COLUMNS = 5
_SAME_SUN = 0.87
"""Cosine of 30 degrees: two estimates of one sun from one ball each are about so far apart."""


def lit_balls(
    pictures: list[Picture], site: Site, within: NDArray[np.uint8], grass: GrassHue
) -> tuple[list[tuple[NDArray[np.uint8], BallFit]], Light | None]:
    """Balls and the light on them."""
    camera, table = site.pose.camera, linear_light(site.gamma)
    balls = _balls_seen(pictures, site, within, grass, None)
    if balls:
        return balls, learn_light(balls, camera, table)
    # of a ball under a low sun from beyond so little shows that the sun has to be known to see it at all: one
    # that was only supposed to stand there is believed where shadows say so
    for supposed in suns_beyond():
        balls = _balls_seen(pictures, site, within, grass, supposed)
        light = learn_light(balls, camera, table)
        if light is not None and light.by_shadow:
            return balls, light
    return [], None


def _balls_seen(
    pictures: list[Picture], site: Site, within: NDArray[np.uint8], grass: GrassHue, known: Shading | None
) -> list[tuple[NDArray[np.uint8], BallFit]]:
    """Balls that tell the clip's light, each in its picture: of all found, those whose suns most agree.

    ``known``: the light they are thought to be in; None to find each one's own.
    """
    table = linear_light(site.gamma)
    look = Look(camera=site.pose.camera, table=table, shading=known)
    part = ALL_WHOLE if known is None else bright_parts(site, grass_luma(site, within), known)
    balls: list[tuple[NDArray[np.uint8], BallFit]] = []
    others: list[NoBall] = []
    alike: list[int] = []
    some = pictures[:: max(1, len(pictures) // _SHADING_LOOKS)]
    for picture, thorough in [
        *((picture, False) for picture in some),
        *((picture, True) for picture in pictures),
    ]:
        if thorough and len(alike) >= _SHADING_FEWEST:
            break
        luma, chroma = picture[0], partial(itemgetter(1, 2), picture)
        colour = FrameColour(luma, chroma, grass) if grass.tells else None
        own = replace(look, colour=colour)
        find = find_balls(
            luma,
            own.camera,
            partial(own.at, luma, reach_px=REACH_PX),
            known_m=[fit.at_m for seen, fit in balls if seen is luma],
            others=others,
            within=within,
            part=part,
            off_grass=colour.off_grass(shrunk(luma)) if thorough and colour else None,
        )
        balls += [(luma, fit) for fit in find.balls]
        others += find.others  # a fit that has to find the sun as well takes ten times as long
        alike = _under_one_sun([fit for _, fit in balls], site.pose.camera) if balls else []
        if len(alike) >= _SHADING_ENOUGH:
            break
    return [balls[i] for i in alike[:_SHADING_ENOUGH]]


def luma_shows(balls: list[tuple[NDArray[np.uint8], BallFit]], light: Light | None) -> bool:
    """Whether the clip's balls lie in good light and most of their outline shows in luma."""
    if light is None:
        return False
    seen = float(np.median([fit.seen for _, fit in balls]))
    return seen > _WELL_SEEN and sum(light.shading.lights) > _WELL_LIT


def _under_one_sun(fits: list[BallFit], camera: Camera) -> list[int]:
    """Those of the balls whose suns most agree, the telling ones first."""
    suns = np.array([fit.shading.sun for fit in fits])
    alike = suns @ suns.T > _SAME_SUN
    # a large, clear ball under a strong sun tells most: a small or burnt-out one looks evenly lit
    tells = np.array(
        [
            ball_radius_px(camera, np.array(fit.at_px))
            * (0.3 + max(fit.shading.lights[2], 0.0))
            / (fit.misfit_px + 0.2)
            for fit in fits
        ]
    )
    leader = int(np.argmax(alike @ tells))
    return sorted(np.nonzero(alike[leader])[0].tolist(), key=lambda i: -float(tells[i]))


def grass_luma(site: Site, within: NDArray[np.uint8]) -> float:
    """Of the green, where balls are looked for."""
    size = (within.shape[1], within.shape[0])
    return float(np.median(cv2.resize(site.still.luma, size, interpolation=cv2.INTER_AREA)[within > 0]))


def bright_parts(site: Site, grass_luma: float, shading: Shading) -> BrightParts:
    """What of a ball stands out from this green's grass, across the picture at the height of the line."""
    least = linear_light(site.gamma)[min(255, int(grass_luma) + FinderSettings().brighter_by)]
    camera = site.pose.camera
    row = camera.project([*np.mean(site.marks_m, axis=0), 0.0])[1]
    columns = np.linspace(0.0, camera.width - 1.0, _COLUMNS)
    places = camera.to_plane(np.column_stack([columns, np.full(_COLUMNS, row)]), BALL_RADIUS_M)
    parts = [bright_part(camera, at_m, shading, float(least)) for at_m in places]
    return BrightParts(tuple(columns.tolist()), tuple(parts))
