"""The palette: contrast by WCAG 2.1 and colour blindness by colorspacious (Machado et al. 2009)."""

import itertools

import numpy as np
import pytest

from puttvision import looks

TEXT = ("ink", "soft", "accent", "good", "bad", "edge", "unsure")


def luminance(colour):
    # WCAG 2.1, definition of "relative luminance"
    share = np.array(looks.rgb(colour)) / 255
    linear = np.where(share <= 0.03928, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return float(linear @ (0.2126, 0.7152, 0.0722))


def contrast(a, b):
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_of_black_on_white_is_21():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)  # WCAG 2.1, "contrast ratio"


@pytest.mark.parametrize("name", ["light", "dark"])
@pytest.mark.parametrize("ground", ["paper", "card"])
def test_text_reads_on_its_ground(name, ground):
    theme = looks.THEMES[name]
    for role in TEXT:
        assert contrast(getattr(theme, role), getattr(theme, ground)) >= 4.5, (name, role, ground)
    assert contrast(theme.on_accent, theme.accent) >= 4.5


@pytest.mark.parametrize("name", ["light", "dark"])
def test_shapes_show_on_the_turf(name):
    theme = looks.THEMES[name]
    for role in ("good", "bad", "edge", "unsure", "turf_ink"):
        assert contrast(getattr(theme, role), theme.turf) >= 3.0, (name, role)


@pytest.mark.parametrize("theme", [looks.LIGHT, looks.DARK, looks.FILM], ids=["light", "dark", "film"])
@pytest.mark.parametrize("kind", ["none", "protanomaly", "deuteranomaly", "tritanomaly"])
def test_good_and_bad_stay_apart_in_colour_blindness(theme, kind):
    # colorspacious 1.1.2, "sRGB1+CVD" (Machado, Oliveira, Fernandes 2009), full severity; distance in
    # CAM02-UCS, where 1 is about what is just seen and 10 is plain at a glance (common practice)
    colorspacious = pytest.importorskip("colorspacious")

    def seen(colour):
        rgb = np.array(looks.rgb(colour)) / 255
        if kind != "none":
            space = {"name": "sRGB1+CVD", "cvd_type": kind, "severity": 100}
            rgb = np.clip(colorspacious.cspace_convert(rgb, space, "sRGB1"), 0, 1)
        return colorspacious.cspace_convert(rgb, "sRGB1", "CAM02-UCS")

    for a, b in itertools.combinations(("good", "bad", "unsure"), 2):
        apart = float(np.linalg.norm(seen(getattr(theme, a)) - seen(getattr(theme, b))))
        assert apart > 10, (a, b, apart)


def test_speed_ramp_rises_in_brightness():
    steps = [luminance(looks.speed_colour(share)) for share in np.linspace(0, 1, 41)]
    assert all(b > a for a, b in itertools.pairwise(steps))


def test_every_result_has_its_own_shape():
    for results in (("holed", "missed", "unseen"), ("clear", "touched", "outside", "none")):
        marks = [looks.MARKS[kind] for kind in results]
        assert len({mark.svg for mark in marks}) == len({mark.plot_marker for mark in marks}) == len(results)


def test_css_names_every_token_in_both_themes():
    text = looks.css()
    assert text.count("--good:") == 3
    assert "--on-accent:" in text
    assert "--space-4:1.0rem" in text
    assert looks.DARK.paper in text.split("prefers-color-scheme:dark")[1]


def test_colours_for_opencv_and_video():
    assert looks.bgr("#102030") == (0x30, 0x20, 0x10)
    # ITU-R BT.709-6: white, black and pure red in 8 bit, limited range
    assert looks.yuv("#ffffff") == (235, 128, 128)
    assert looks.yuv("#000000") == (16, 128, 128)
    assert looks.yuv("#ff0000") == (63, 102, 240)
    assert looks.yuv("#ffffff", full_range=True) == (255, 128, 128)
    assert looks.yuv("#ff0000", full_range=True)[2] == 255


def test_a_colour_that_is_none_is_refused():
    with pytest.raises(ValueError, match="#rrggbb"):
        looks.rgb("blue")


def test_plots_take_the_style():
    matplotlib = pytest.importorskip("matplotlib")
    for name in looks.THEMES:
        with matplotlib.rc_context(looks.plot_style(name)):
            assert matplotlib.rcParams["axes.edgecolor"] == looks.THEMES[name].soft
