"""Warnings about what the shell model cannot know, and figures of zones that sweep nothing."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from harsh_domes import harsh_dome

from diaphragm_fem.analysis.curve.curve import Curve
from diaphragm_fem.answer.evaluate import evaluate
from diaphragm_fem.answer.quick import quick
from diaphragm_fem.answer.trust.cautions import (
    design_cautions,
    plainly_sound,
    result_cautions,
    short_wave,
    too_curved,
    too_thick_hoop,
)
from diaphragm_fem.answer.trust.poor_joints import near_another_drawing
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.files.input_file import read_toml_file
from diaphragm_fem.design.material.material import LossFactor, Material, Stiffening
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.meridian.wall import plain_wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.design.read.read import design_from, load_design
from diaphragm_fem.mesh.section import lay_section
from diaphragm_fem.mesh.section_size import Grading

FILM = Material("film", 1400.0, 4.5e9, 0.38, LossFactor((0.02,)))
METAL_DOME = Path(__file__).parents[2] / "studies" / "metal_dome.toml"


def layered(*layers):
    wall = {"layers": [{"material": material, "thickness": thickness} for material, thickness in layers]}
    return load_design(METAL_DOME, {"wall": wall})


def butted(changes=None):
    """The metal dome without its overlap."""
    data = read_toml_file(METAL_DOME)
    del data["profile"]["surround"]["overlap"]
    return design_from(data, changes=changes)


@pytest.mark.parametrize("number", [5, 29, 82])
def test_a_surround_that_lies_along_the_former_is_told(number):
    """Dome 24, whose surround leaves the former at once, is met to 0.01 %."""
    (text,) = (x for x in design_cautions(harsh_dome(number), 20e3) if "along the former" in x)
    assert "surround: it lies along the former over" in text and "believe the solid" in text
    assert not any("along the former" in x for k in (4, 24, 42) for x in design_cautions(harsh_dome(k), 20e3))


@pytest.mark.parametrize(("number", "side"), [(8, "just above"), (182, "just below"), (314, "just above")])
def test_a_former_all_but_drawn_in_another_way_is_told(number, side):
    """Whichever way it is drawn: a tenth of a percent more or less of a length there changes it."""
    (text,) = near_another_drawing(harsh_dome(number))
    assert side in text and "the second opinion shares that" in text
    united = lay_section(harsh_dome(number), Grading())[0] is None
    assert united is (side == "just above")


def test_a_former_drawn_in_one_way_alone_is_not_told_of_another():
    for design in (*map(harsh_dome, (0, 53, 57, 90)), butted(), load_design(METAL_DOME)):
        assert near_another_drawing(design) == ()


@pytest.mark.parametrize(("core", "thickness"), [("butyl rubber", "8 um"), ("polyurethane foam", "0.5 mm")])
def test_layers_that_slide_on_a_soft_core_are_told(core, thickness):
    face = ("aluminium alloy", "15 um")
    assert any("soft one that slides" in text for text in design_cautions(layered(face, (core, thickness), face), 20e3))


def test_of_two_layers_none_slides_between():
    (text,) = (x for x in design_cautions(layered(("PEN film", "40 um"), ("nitrile rubber", "0.2 mm")), 20e3)
               if "bend each on its own" in x)  # fmt: skip
    assert "% too low near 20 kHz" in text  # no lap: all of the wall is of both
    assert "PEN film and nitrile rubber, one on the other, bend each on its own by shear of the softer, which" in text


def test_a_surround_glued_on_a_dome_is_no_caution_of_the_whole_dome():
    """Rubber on a film of metal slides; the dome beside it is one layer, and sound."""
    data = read_toml_file(METAL_DOME)
    data["profile"]["surround"] |= {"material": "nitrile rubber", "thickness": "0.25 mm"}
    (text,) = (x for x in design_cautions(design_from(data), 20e3) if "bend each on its own" in x)
    assert text.startswith("dome, where it is aluminium alloy and nitrile rubber: aluminium alloy and nitrile rubber,")
    assert "mostly too high, near 20 kHz" in text and "too low" not in text  # by the solid -0.3 to +1.6 %, m = 0 to 2
    most = float(text.split("off by up to ")[1].split(" %")[0])
    assert (
        1.6 < most < 10
    )  # 2.2 % measured by the solid, m = 0 to 3 to 25 kHz; 61 % where a lap's ends were taken for held


def test_silk_glued_on_a_dome_is_none_at_all():
    """On 25 um of foil shell and solid were measured within 0.16 % of one another, m = 0 to 2 to 35 kHz; 2.2 % was told
    where a lap's ends were taken for held."""
    dome = load_design(METAL_DOME, {"wall.thickness": "25 um"})
    assert not any("bend each on its own" in text for text in design_cautions(dome, 20e3))


def test_layers_of_like_stiffness_are_not():
    films = layered(("PET film", "20 um"), ("PEN film", "20 um"), ("PET film", "20 um"))
    assert not any("soft one that slides" in text for text in design_cautions(films, 20e3))


def test_a_thick_soft_wall_that_a_thin_one_holds_by_its_middle_is_told():
    """0.42 (120/30)^2 0.12 mm, by the punch on soft ground."""
    (text,) = (x for x in design_cautions(butted(), 20e3) if "butted" in x)
    assert text.startswith("surround: butted against dome, whose 0.03 mm hold its 0.12 mm by")
    assert "up to 0.81 mm longer" in text


def test_its_remedy_is_one_that_its_kind_of_part_has():
    """A surround has a key for it, points do not; a step is told to be drawn by them."""
    dome, stretch = butted(), "make the stretch where both lie a zone with the layers of both"
    step = Zone("step", Role.STEP)
    stepped = tuple(replace(x, zone=step) if x.zone.role is Role.SURROUND else x for x in dome.meridian)
    for design, remedy in (
        (dome, 'write overlap = { length = "1 mm", side = "front" } into its table'),
        (replace(dome, by_points=True), stretch),
        (replace(dome, meridian=stepped), f"draw the meridian by points and {stretch}"),
    ):
        (text,) = (x for x in design_cautions(design, 20e3) if "butted" in x)
        assert text.endswith(f"longer. If it is glued on, {remedy}")


def test_a_file_says_whether_points_draw_its_meridian():
    assert load_design(METAL_DOME.with_name("drawn_v.toml")).by_points and not load_design(METAL_DOME).by_points


@pytest.mark.parametrize("change", [{"wall.thickness": "60 um"}, {"wall.material": "treated silk"}])
def test_a_wall_held_by_most_of_it_or_of_like_stuff_is_not(change):
    assert not any("butted" in text for text in design_cautions(butted(change), 20e3))


def test_a_surround_glued_on_its_wall_is_not():
    assert design_cautions(load_design(METAL_DOME), 20e3) == ()


def test_it_is_told_from_where_on_a_bending_wave_is_too_short():
    """Ten thicknesses long is a wave of 2 pi (D/(rho h (2 pi f)^2))^(1/4) at f = (2 pi/10)^2 c/(2 pi h sqrt(12)) with
    c^2 = E/((1 - nu^2) rho): Cremer, Heckl and Petersson, Structure-Borne Sound (2005), ch. 3 (from memory).
    """
    slab, bar = butted().meridian[0], load_design(METAL_DOME).meridian[0].wall.layers[0].material
    h = 8e-3
    wall = replace(slab.wall, layers=(replace(slab.wall.layers[0], begin_thickness=h, end_thickness=h),))
    plate_speed = np.sqrt(bar.youngs_modulus / ((1 - bar.poisson_ratio**2) * bar.density))
    expected = (2 * np.pi / 10) ** 2 * plate_speed / (2 * np.pi * h * np.sqrt(12))
    design = replace(butted(), meridian=(replace(slab, wall=wall),))
    (text,) = (x for x in design_cautions(design, 20e3) if "bending wave" in x)
    assert f"above {expected / 1e3:.1f} kHz a bending wave is shorter than 10 wall thicknesses" in text
    assert not any("bending wave" in x for x in design_cautions(design, 0.98 * expected))
    rubber = {"profile.surround.material": "nitrile rubber", "profile.surround.thickness": "0.5 mm"}
    (text,) = (x for x in design_cautions(load_design(METAL_DOME, rubber), 20e3) if x.startswith("surround: above "))
    assert float(text.split()[2]) < 8  # its modulus rises with frequency: 3.4 kHz as measured


@pytest.mark.parametrize("known_hz", [1e6, 20e3])
def test_a_wave_is_as_long_as_the_modulus_of_the_top_frequency_makes_it(known_hz):
    """Eleven thicknesses by the modulus that is given (equation as above), 8.2 where that is one of 1 MHz."""
    rubber = Material("rubber", 1100.0, 1e8, 0.45, LossFactor((0.5,)), stiffening=Stiffening((known_hz,)))
    h = (2 * np.pi / 11) ** 2 * np.sqrt(1e8 / (12 * (1 - 0.45**2) * 1100.0)) / (2 * np.pi * 20e3)
    ring = Piece(Line((10e-3, 0.0), (20e-3, 0.0)), Zone("ring"), plain_wall(rubber, h))
    design = Design("ring", (ring,))
    told = any("bending wave" in x for x in design_cautions(design, 20e3))
    assert told == (11 * float(rubber.storage_ratio(20e3)) ** 0.25 < 10) == (known_hz == 1e6)


def test_a_wall_too_thick_for_its_hoop_is_told_where_it_is_worst():
    """Thickness over r/|n_r| at the narrow end of a cone of 45 degrees, which may be its last: 0.2 mm x 0.707/1 mm."""
    for ends in (((2e-3, 0.0), (1e-3, 1e-3)), ((1e-3, 1e-3), (2e-3, 0.0))):
        assert "the wall is 0.14 of its hoop radius" in too_thick_hoop(
            Piece(Line(*ends), Zone("cone"), plain_wall(FILM, 0.2e-3))
        )


def test_what_is_plainly_sound_has_nothing_to_be_told():
    """Lines and arcs of any size and thickness, drawn at random: the quick bounds clear no piece that the slow reasons
    would name, and some of those that they would not."""
    draw, cleared = np.random.default_rng(1), 0
    for _ in range(400):
        r, to_r, z = draw.uniform(0.5e-3, 20e-3, 3)
        curve = Line((r, 0.0), (to_r, z))
        if draw.random() < 0.5:
            curve = Arc((r, 0.0), draw.uniform(0.1, 0.9) * r, *draw.uniform(-3, 3, 2))
        film = replace(FILM, youngs_modulus=10 ** draw.uniform(7, 10.5))
        wall = plain_wall(film, *(10 ** draw.uniform(-4.5, -3, 2)))
        one = Piece(curve, Zone("wall"), wall)
        if plainly_sound(one, 20e3):
            cleared += 1
            assert not (too_curved(one) or too_thick_hoop(one) or short_wave(one, 20e3)), one
    assert cleared > 20


@pytest.mark.parametrize(("area_error", "told"), [(0.009, False), (0.02, True)])
def test_the_area_may_be_off_by_ten_times_what_frequencies_may(area_error, told):
    found = SimpleNamespace(frequency_error={}, area_error=area_error)
    texts = result_cautions(found, 1e-3)
    assert told == any("may be off by 2 % of itself or of the low area, more than the 1 % asked" in x for x in texts)
    assert len(texts) == told


def test_the_worst_mode_is_named_and_the_others_counted():
    found = SimpleNamespace(
        frequency_error={1: np.array([2e-3, 0.0, 0.5, 3e-3])},
        level=SimpleNamespace(modes={1: SimpleNamespace(frequency_hz=np.array([100.0, 200.0, 300.0, 400.0]))}),
        area_error=None,
    )
    (text,) = result_cautions(found, 1e-3)
    assert "mode 3 at 300 Hz may be off by 50 %" in text and text.endswith("and 2 more by less")


def test_a_driven_zone_that_sweeps_nothing_but_rounding_is_known():
    """An upright tube as the driven zone: its rigid area is rounding, and so is its share of it."""
    zones = (Zone("tube", Role.DRIVEN), Zone("surround", Role.SURROUND))
    frequency = np.geomspace(20, 20e3, 50)
    zone = np.vstack((np.full(50, 1e-19 + 0j), np.full(50, 1e-3 + 0j)))
    curve = Curve(
        frequency, zone, np.ones(len(frequency), complex), zones, np.array([1e-20, 1e-3]), np.array([0.0, 1e-3])
    )
    assert curve.sweeps.tolist() == [False, True]
    assert np.isnan(curve.share[0]).all() and np.isfinite(curve.share[1]).all()


def test_a_driven_zone_that_sweeps_nothing_is_left_out_and_told_once():
    """It neither counts as following the coil nor keeps another from never leaving it."""
    points = {"r": ["0 mm", "10 mm", "10 mm", "12.5 mm", "16 mm"], "z": ["4 mm", "2 mm", "0 mm", "0 mm", "0 mm"]}
    zone = ["inner driven zone", "driven neck", "outer driven zone", "surround", "surround"]
    material = ["aluminium alloy"] * 3 + ["nitrile rubber"] * 2
    profile = {"kind": "free", **points, "thickness": ["50 um"] * 5, "zone": zone, "material": material}
    coil = {"kind": "ring", "diameter": "25 mm", "mass": "0.3 g"}
    design = design_from({"name": "neck", "profile": profile, "coil": coil, "edges": {"outer": "clamped"}})
    figures = quick(design, up_to_hz=800.0).figures
    assert [one.zone for one in figures.departures] == ["inner driven zone", "outer driven zone"]
    (note,) = figures.notes
    assert note.startswith("the driven neck sweeps no area")
    assert figures.departure_hz is None and figures.never["departure_hz"] == 800
    assert "departure_hz:driven neck" not in figures.never and "break_up_mode_hz" not in figures.never
    assert figures.reason("departure_hz:driven neck") == "the design has no driven neck that sweeps an area"
    assert "neck" in " ".join(evaluate(design, up_to_hz=800.0, orders=[0], second_opinion=False).warnings)
