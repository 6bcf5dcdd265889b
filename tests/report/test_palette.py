"""The palette can be told apart: by contrast with the ground, and by colour for every kind of sight.

Simulated colour vision, full severity, on linear RGB: Machado, Oliveira and Fernandes, IEEE Trans. Vis. Comput. Graph.
15 (2009) 1291, matrices from memory. Lab and its white point D65: CIE 15 (2004); contrast: W3C, WCAG 2.1, 1.4.11
asks for 3:1 of graphical objects.
"""

import re
from itertools import combinations
from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib.colors import to_rgb

from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.report.looks import TONE_OF_ROLE, TONES, zone_looks
from diaphragm_fem.report.page.writer import _part, page_colours, script_of
from diaphragm_fem.report.sheets import style
from diaphragm_fem.report.sheets.stroke_wall import _colour

SIGHTS = {
    "usual": np.eye(3),
    "no red cones": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "no green cones": [
        [0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]
    ],
    "no blue cones": [
        [1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]
    ],
}  # fmt: skip
TO_XYZ = [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
WHITE = np.array([0.95047, 1.0, 1.08883])


def linear(colour: str) -> np.ndarray:
    srgb = np.array(to_rgb(colour))
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def lab(rgb: np.ndarray) -> np.ndarray:
    ratio = np.asarray(TO_XYZ) @ np.clip(rgb, 0, 1) / WHITE
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio * (29 / 6) ** 2 / 3 + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def contrast(one: str, other: str) -> float:
    light = sorted(float(np.array([0.2126, 0.7152, 0.0722]) @ linear(colour)) for colour in (one, other))
    return (light[1] + 0.05) / (light[0] + 0.05)


def closest(colours) -> float:
    """Smallest distance in Lab of two colours, over all kinds of sight."""
    seen = {name: [lab(np.asarray(matrix) @ linear(colour)) for colour in colours] for name, matrix in SIGHTS.items()}
    return min(float(np.linalg.norm(a - b)) for points in seen.values() for a, b in combinations(points, 2))


DARK = page_colours("dark")  # dashes and labels must help there
GROUNDS = {
    "light": (style.ROLE_COLOURS, "#ffffff", 30.0),
    "dark": ({role: DARK[role.replace(" ", "-")] for role in style.ROLE_COLOURS}, DARK["paper"], 15.0),
}


@pytest.mark.parametrize(("colours", "ground", "apart"), GROUNDS.values(), ids=GROUNDS)
def test_roles_stand_out_and_apart(colours, ground, apart) -> None:
    assert min(contrast(colour, ground) for colour in colours.values()) >= 3.0
    assert closest(list(colours.values())) >= apart


def test_roles_stand_apart_in_a_grey_print() -> None:
    """A surround was as light as the flank beyond a step: strips of zones looked alike. Where two of these meet, 8 of
    lightness is three times what is just seen, 2.3 (Mahy et al., Color Res. Appl. 19 (1994) 105, from memory)."""
    light = sorted(lab(linear(colour))[0] for colour in (*style.ROLE_COLOURS.values(), style.INK))
    assert np.diff(light).min() >= 8.0


def test_strokes_stand_apart_in_a_grey_print() -> None:
    """Half to the rear was as light as full to the front."""
    path = SimpleNamespace(stroke=np.array([-1e-3, -5e-4, 0.0, 5e-4, 1e-3]), rest=2)
    colours = [_colour(SimpleNamespace(path=path), k) for k in range(5)]
    light = sorted(lab(linear(colour))[0] for colour in colours)
    assert np.diff(light).min() >= 8.0 and min(contrast(colour, "#ffffff") for colour in colours) >= 3.0


def test_colours_in_turn_stand_out_and_apart() -> None:
    """Eight colours are closer than five: designs have dashes and numbers beside them."""
    assert min(contrast(colour, "#ffffff") for colour in style.CYCLE) >= 3.0
    assert closest(style.CYCLE) >= 18.0
    assert closest(style.CYCLE[:5]) >= 25.0


def test_zones_without_a_role_wear_no_role_s_colour_on_pages() -> None:
    """As on sheets. A page had all of them blue as driven in its strips, and the fourth red as a step elsewhere."""
    assert all(style.CYCLE[tone] == style.ROLE_COLOURS[role] for role, tone in TONE_OF_ROLE.items())
    zones = [Zone("cone", Role.DRIVEN), *(Zone(f"zone {k}") for k in range(3)), Zone("step", Role.STEP, "", 1)]
    cone, *others, step = zone_looks(zones)
    assert (cone, step) == ("driven", "step") and others == ["tone-1", "tone-3", "tone-4"]
    assert all(page_colours(theme).keys() >= set(others) for theme in GROUNDS)
    assert [style.zone_colours(zones)[zone] for zone in zones[1:4]] == [style.CYCLE[k] for k in (1, 3, 4)]


def test_a_winding_is_of_ink_on_sheets_and_on_pages() -> None:
    """On pages it had the former's colour, so that modes of both looked alike."""
    former, winding = zones = [Zone("former", Role.COIL), Zone("winding", Role.COIL)]
    assert zone_looks(zones) == ["coil", "ink"] and zone_looks([winding]) == ["coil"]
    assert style.zone_colours(zones) == {former: style.ROLE_COLOURS[Role.COIL], winding: style.INK}
    assert ".role-ink { --zone: var(--ink) }" in _part("style.css")


def test_inks_are_read_on_white_and_on_the_deepest_tint() -> None:
    """WCAG 2.1, 1.4.3: text needs 4.5:1."""
    from diaphragm_fem.report.sheets.changes import MOST_TINT
    from diaphragm_fem.report.sheets.wall_maps import DEEPEST

    assert contrast(style.INK, "#ffffff") >= 4.5 and contrast(style.SOFT_INK, "#ffffff") >= 4.5
    for colour, share in ((style.BETTER, DEEPEST), (style.NEITHER, DEEPEST), (style.WORSE, 1 - MOST_TINT)):
        assert contrast(style.INK, style.pale(colour, share)) >= 4.5


@pytest.mark.parametrize("theme", GROUNDS)
@pytest.mark.parametrize("side", ["better", "worse"])
def test_ink_is_read_on_the_deepest_tint_of_walls(theme: str, side: str) -> None:
    """WCAG 2.1, 1.4.3: text needs 4.5:1. A wall four times as good had 3.7."""
    colours, deepest = page_colours(theme), float(re.search(r"DEEPEST = ([0-9.]+)", script_of("walls"))[1])
    tint = style.mixed({"light": "#ffffff", "dark": colours["paper"]}[theme], colours[side], deepest)
    assert contrast(colours["ink"], tint) >= 4.5


def test_contrast_and_lab_are_those_of_the_standards() -> None:
    """Black on white has 21:1; sRGB red is L* 53.24, a* 80.09, b* 67.20 under D65 (from memory)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert lab(linear("#ff0000")) == pytest.approx([53.24, 80.09, 67.20], abs=0.01)


@pytest.mark.parametrize("theme", GROUNDS)
def test_pages_have_the_sheets_colours(theme) -> None:
    """The style sheet of the pages against the palette of the sheets, and what it adds for both themes."""
    colours, (roles, ground, _) = page_colours(theme), GROUNDS[theme]
    assert {role: colours[role.replace(" ", "-")] for role in roles} == roles
    assert contrast(colours["paper"], ground) < 1.001 or colours["paper"] == "#fff"
    if theme == "light":
        assert [colours[f"tone-{k}"] for k in range(TONES)] == list(style.CYCLE)
        assert (colours["better"], colours["worse"]) == (style.BETTER, style.WORSE)
    assert min(contrast(colours[f"tone-{k}"], ground) for k in range(TONES)) >= 3.0
    assert closest([colours["better"], colours["worse"]]) >= 30.0  # green and red were 12 apart without red cones
    for name in ("ink", "soft", "alarm", "accent", "better", "worse"):  # text, WCAG 2.1, 1.4.3
        assert contrast(colours[name], ground) >= 4.5
