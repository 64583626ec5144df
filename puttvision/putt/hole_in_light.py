"""The hole's place once the light is known: where it renders as it looks."""

from __future__ import annotations

from dataclasses import replace

from puttvision.ball.disc import TOP_LUMA
from puttvision.ball.light import Light
from puttvision.green.edges import linear_light
from puttvision.green.hole_rendering import place_by_rendering
from puttvision.green.site import Site


def with_hole_in_light(site: Site, light: Light | None) -> Site:
    """A site with its hole placed in the light that is on the balls.

    As it was where no light is known, where a person pointed at a hole of which no rim is seen, and where
    nothing there renders as a hole.
    """
    if light is None or site.hole.rim_seen == 0:
        return site
    shading, table = light.shading, linear_light(site.gamma)
    placed = place_by_rendering(
        site.still.luma,
        site.pose.camera,
        site.hole.at_px,
        table,
        float(table[TOP_LUMA]),
        light.sun,
        shading.blur_px,
    )
    if placed is None:
        return site
    return replace(site, hole=replace(site.hole, at_px=placed.at_px, cov_px2=placed.cov_px2))
