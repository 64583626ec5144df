"""Scenes small enough to film in a test."""

from dataclasses import replace

from sample_media.film.scene import Camera, Green, Light, Putt, Scene, Sheet

TINY = Scene(
    name="tiny",
    what="a ball that rolls, nobody there",
    seed=7,
    duration_s=0.5,
    hole=(1.2, 0.0),
    green=Green(blades=1500, half_axes=(4.0, 3.0)),
    camera=Camera(
        width=480,
        height=270,
        fps=30.0,
        focal_px=560.0,
        centre_px=(239.5, 134.5),
        place=(0.5, -1.5, 0.9),
        look_at=(0.55, 0.05, 0.0),
        exposure_s=1 / 200,
        readout_s=0.016,
    ),
    light=Light(noise=0.0, drift=0.0, sharpen=0.0, azimuth_deg=-60.0, elevation_deg=55.0),
    sheets=(Sheet(id=3, at=(0.75, 0.35), turn_deg=12.0),),
    golfer=None,
    putts=(Putt(impact_s=0.1, offset_mm=5.0, run_out_m=0.2),),
)

NO_BALL = replace(TINY, putts=())
