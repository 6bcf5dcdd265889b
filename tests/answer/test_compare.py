"""Designs side by side: figures against a baseline, similarity laws, alternatives from a file, refusals."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from spared import without_doubts

from diaphragm_fem.analysis.curve.curve import Curve
from diaphragm_fem.analysis.response import respond
from diaphragm_fem.analysis.solution import direct_area
from diaphragm_fem.answer.comparison.comparison import compare, level_difference, response_of
from diaphragm_fem.answer.comparison.figure_rows import FigureRow
from diaphragm_fem.answer.comparison.variants import NamedDesign, read_designs, vary
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import CLAMPED
from diaphragm_fem.design.meridian.wall import Layer, Wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.errors import DesignError, StudyError

V_FILE = """
name = "small V"
[wall]
material = "PEN film"
thickness = "60 um"
[profile]
kind = "v"
coil_diameter = "50 mm"
[profile.outer]
width = "7 mm"
rise = "5 mm"
steps = [{distance = "3 mm", tread = "1 mm", rise = "0 mm"}]
surround = {kind = "half-roll", width = "2.5 mm", height = "0.8 mm", thickness = "40 um"}
[profile.inner]
width = "6 mm"
rise = "4 mm"
surround = {kind = "half-roll", width = "2 mm", height = "0.8 mm", thickness = "40 um"}
[coil]
kind = "ring"
mass = "0.8 g"
"""


@pytest.fixture(scope="module")
def v_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("designs") / "small_v.toml"
    path.write_text(V_FILE)
    return path


def _scaled(design: Design, modulus: float = 1.0, density: float = 1.0) -> Design:
    """The same drawing with every modulus and every density, the ring's mass among them, multiplied."""

    def wall(old: Wall) -> Wall:
        (layer,) = old.layers
        was = layer.material
        changed = replace(was, youngs_modulus=modulus * was.youngs_modulus, density=density * was.density)
        return Wall((replace(layer, material=changed),))

    ring = design.ring
    assert ring is not None
    return replace(
        design,
        meridian=tuple(replace(piece, wall=wall(piece.wall)) for piece in design.meridian),
        ring=replace(ring, mass=density * ring.mass, hoop_stiffness=modulus * ring.hoop_stiffness),
    )


@pytest.fixture(scope="module")
def stiffer(v_file: Path):
    """As drawn, with four times every modulus, and with nine times every density."""
    design = read_designs([v_file])[0].design
    designs = [
        NamedDesign("as drawn", design), NamedDesign("stiffer", _scaled(design, modulus=4.0)),
        NamedDesign("heavier", _scaled(design, density=9.0)),
    ]  # fmt: skip
    with without_doubts():
        return compare(designs, up_to_hz=12e3, orders=(0, 1, 2), second_opinion=False)


def test_four_times_the_modulus_doubles_every_frequency(stiffer):
    """omega ~ sqrt(E/rho) at fixed shape (dimensional analysis): exact but for the mesh.

    0.2 %: twice the tolerance of each evaluation.
    """
    for name in ("fundamental_hz", "decoupling_hz", "decoupling_hz:outer step"):
        assert stiffer.row(name).relative == pytest.approx((0.0, 1.0, 1 / 3 - 1), abs=2e-3)
    assert stiffer.row("stiffness_n_per_m").relative == pytest.approx((0.0, 3.0, 0.0), abs=2e-3)
    assert stiffer.row("moving_mass_kg").relative == pytest.approx((0.0, 0.0, 8.0), abs=2e-3)
    assert stiffer.row("low_area_m2").relative == pytest.approx((0.0, 0.0, 0.0), abs=1e-3)
    assert stiffer.row("area_per_mass_m2_per_kg").relative == pytest.approx((0.0, 0.0, 1 / 9 - 1), abs=1e-3)


def test_scaled_designs_have_the_same_shapes(stiffer):
    """Every track keeps its place, its shape and the ratio of frequencies, as far as the top frequency shows it."""
    for m in (0, 1, 2):
        followed = [track for track in stiffer.tracks[m] if track.frequency_hz[1] is not None and track.first == 0]
        assert len(followed) >= 2
        for track in followed:
            assert len(set(track.index) - {None}) <= 1  # overtakes none
            assert track.likeness[1] > 0.999
            assert track.frequency_hz[1] / track.frequency_hz[0] == pytest.approx(2.0, rel=2e-3)
        for track in stiffer.tracks[m]:
            if track.first == 0:
                assert track.frequency_hz[2] / track.frequency_hz[0] == pytest.approx(1 / 3, rel=2e-3)


def test_differences_are_to_the_baseline():
    row = FigureRow("departure_hz", (2000.0, None, 3000.0, 1000.0), 0, (False,) * 4, ("",) * 4, (False,) * 4)
    assert row.differences == (0.0, None, 1000.0, -1000.0)
    assert row.relative == (0.0, None, 0.5, -0.5)
    assert replace(row, baseline=2).relative == (pytest.approx(-1 / 3), None, 0.0, pytest.approx(-2 / 3))
    assert replace(row, baseline=1).differences == (None,) * 4


def test_below_its_other_modes_a_diaphragm_is_a_mass_on_a_spring(stiffer):
    """|U/F| = omega S/(k - omega^2 M) with the static stiffness, moving mass and low area (Newton).

    An octave below it. 0.5 %: losses are 1.5 % and act at right angles, and the next mode lies two octaves above.
    """
    response = stiffer.responses[0]
    fundamental = stiffer.row("fundamental_hz").values[0]
    assert response is not None and fundamental is not None
    k = int(np.argmin(np.abs(response.frequency_hz - 0.5 * fundamental)))
    f = response.frequency_hz[k]
    area, stiffness = stiffer.row("low_area_m2").values[0], stiffer.row("stiffness_n_per_m").values[0]
    mass = stiffer.row("moving_mass_kg").values[0]
    omega = 2 * np.pi * f
    assert abs(response.volume_velocity[k]) == pytest.approx(omega * area / (stiffness - omega**2 * mass), rel=5e-3)


def test_response_of_a_known_mass():
    """A free piston of mass M and area S: force per motion -omega^2 M, so U/F = S/(i omega M) exactly."""
    f = np.array([100.0, 1000.0])
    omega = 2 * np.pi * f
    zone = Zone("piston", Role.DRIVEN)
    area, force = np.full((1, 2), 3e-3 + 0j), -(omega**2) * 2e-3 + 0j
    curve = Curve(f, area, force, (zone,), np.array([3e-3]), np.array([3e-3]))
    assert response_of(curve).volume_velocity == pytest.approx(3e-3 / (1j * omega * 2e-3), rel=1e-12)


def test_response_agrees_with_the_direct_solve(stiffer):
    """Volume over force from one plain solve per frequency, nothing reduced: volume velocity = i omega (volume . u)."""
    structure, response = stiffer.evaluations[0].structures[0], stiffer.responses[0]
    for k in (20, 150, 300):
        f = response.frequency_hz[k]
        motion = respond(structure, f)[:, 0]
        exact = 2j * np.pi * f * (structure.volume.sum(axis=0) @ motion)
        assert abs(response.volume_velocity[k] - exact) < 2e-3 * abs(exact)
    assert direct_area(structure, response.frequency_hz[150]).total[0] == pytest.approx(response.area[150], rel=2e-3)


def test_level_difference_of_scaled_designs(stiffer):
    """Far above both resonances equal areas on nine times the mass are 20 log10 9 = 19.1 dB lower; below them equal."""
    frequency, level = level_difference(stiffer.responses[2], stiffer.responses[0])
    assert level[0] == pytest.approx(0.0, abs=0.2)
    _, same = level_difference(stiffer.responses[0], stiffer.responses[0])
    assert same == pytest.approx(np.zeros(same.size), abs=1e-12)
    assert np.all(np.diff(frequency) > 0)


def test_doubtful_numbers_are_marked(stiffer, v_file):
    """PEN film has a published density and modulus, an assumed Poisson ratio and loss factor: 20 % of that ratio
    moves the stiffness by more than 2 % and the resonance, which goes with its root, by less.
    """
    designs = vary(v_file, {"wall.material": ["PEN film", "aluminium alloy"]})
    found = compare(designs, up_to_hz=3e3, orders=(0,), second_opinion=False)
    assert found.row("stiffness_n_per_m").doubtful == (True, False)
    for name in ("fundamental_hz", "moving_mass_kg", "low_area_m2"):
        assert not found.row(name).doubtful[0]
    said = [line for line in found.doubts if line.startswith("PEN film: Poisson ratio 0.38 is assumed")]
    assert len(said) == 1


def test_a_figure_that_does_not_exist_has_its_reason(v_file):
    plain, stepped = vary(
        v_file, {"profile.outer.steps": [[], [{"distance": "3 mm", "tread": "1 mm", "rise": "0 mm"}]]}
    )
    designs = [NamedDesign("plain", plain.design), NamedDesign("stepped", stepped.design)]
    found = compare(designs, 1, up_to_hz=5e3, orders=(0,), second_opinion=False)
    row = found.row("decoupling_hz:outer step")
    assert row.values[0] is None and row.reasons[0] == "the design has no outer step"
    assert row.values[1] > 0 and row.differences == (None, 0.0)
    assert found.row("decoupling_hz").reasons[0] == "the design has no step"
    assert not row.doubtful[0]


def test_designs_without_drive_are_compared_by_their_modes():
    def disc(thickness: float) -> NamedDesign:
        from diaphragm_fem.design.library.library import find_material, load_materials

        foil = find_material(load_materials(), "titanium")
        wall = Wall((Layer(foil, thickness, thickness),))
        piece = Piece(Line((0, 0), (0.02, 0)), Zone("disc"), wall)
        return NamedDesign(f"{thickness}", Design("disc", (piece,), None, CLAMPED))

    found = compare([disc(50e-6), disc(60e-6)], up_to_hz=10e3, orders=(0, 1), second_opinion=False)
    assert found.rows == () and found.responses == (None, None)
    for track in found.tracks[1]:
        if track.frequency_hz[1]:
            # thin plates: omega ~ h
            assert track.frequency_hz[1] / track.frequency_hz[0] == pytest.approx(1.2, rel=2e-3)


def test_every_combination_gets_a_name(v_file):
    values = {"wall.material": ["PEN film", "PET film"], "wall.thickness": ["50 um", "60 um"]}
    designs = vary(v_file, values, as_drawn=True)
    assert [one.name for one in designs] == [
        "PEN film, thickness 60 um, as drawn",  # the drawn design is not repeated among its own variants
        "PEN film, thickness 50 um",
        "PET film, thickness 50 um",
        "PET film, thickness 60 um",
    ]
    wall = designs[2].design.meridian[-3].wall.layers[0]
    assert (wall.material.name, wall.begin_thickness) == ("PET film", pytest.approx(50e-6))


@pytest.mark.parametrize("twice", [["50 um", "60 um", "0.05 mm"], ["2 mil", "50.8 um"]])
def test_a_value_is_not_compared_with_itself(v_file, twice):
    """50 um and 0.05 mm stood side by side as two designs, one the baseline of the other."""
    with pytest.raises(StudyError, match=f"'{twice[0]}' and '{twice[-1]}' are the same value; leave one out"):
        vary(v_file, {"wall.thickness": twice})


def test_of_too_many_values_no_two_are_compared(v_file):
    """Every pair of 1,500 took 3.6 s before they were refused."""
    with pytest.raises(StudyError, match="at most 100 designs are laid side by side, received 101 of them"):
        vary(v_file, {"wall.thickness": ["50 um"] * 101})


def test_a_value_that_is_as_drawn_alone_is_nothing_to_compare_with(v_file):
    """It was told to give a second file or a list of values, beside the value that was given."""
    with pytest.raises(StudyError, match=r"_v\.toml: thickness 60 um is how it is drawn, so there is nothing"):
        vary(v_file, {"wall.thickness": ["60 um"]}, as_drawn=True)


def test_keys_that_end_alike_are_told_apart_in_a_name(v_file):
    """ "tread 0.66 mm, tread 0.81 mm" said of neither step which it was."""
    keys = {"profile.outer.width": "7 mm", "profile.inner.width": "5 mm", "profile.outer.material": "PET film"}
    (one,) = vary(v_file, {key: [value] for key, value in keys.items()})
    assert one.name == "outer width 7 mm, inner width 5 mm, PET film"
    (two,) = vary(v_file, {"wall.material": ["PET film"], "profile.outer.material": ["PET film"]})
    assert two.name == "wall PET film, profile outer PET film"


def test_items_of_lists_are_reached_in_both_spellings(v_file):
    for key in ("profile.outer.steps[0].tread", "profile.outer.steps.0.tread"):
        one, other = vary(v_file, {key: ["0.8 mm", "1.4 mm"]})
        assert one.name == "tread 0.8 mm"
        assert one.design.meridian != other.design.meridian


@pytest.mark.parametrize("key", ["profile.outer.steps[3].tread", "wall.thickness.far"])
def test_a_key_that_does_not_fit_is_refused(v_file, key):
    with pytest.raises(StudyError, match=r"names no key of this design .*; did you mean"):
        vary(v_file, {key: ["1 mm"]})


def test_an_unknown_key_and_a_refused_value_are_refused_by_the_design(v_file):
    with pytest.raises(DesignError, match="thicknes"):
        vary(v_file, {"wall.thicknes": ["50 um"]})
    with pytest.raises(DesignError, match="unknown material 'paprika'"):
        vary(v_file, {"wall.material": ["paprika"]})


def test_an_empty_list_of_values_is_refused(v_file):
    with pytest.raises(StudyError, match=r"wall.material: needs a list with at least one value, received \[\]"):
        vary(v_file, {"wall.material": []})
    with pytest.raises(StudyError, match="needs a list with at least one value, received 'PEN film'"):
        vary(v_file, {"wall.material": "PEN film"})


def test_designs_that_share_a_name_go_by_their_files(v_file, tmp_path):
    twin = tmp_path / "twin.toml"
    twin.write_text(V_FILE)
    assert [one.name for one in read_designs([v_file, twin])] == ["small_v", "twin"]
    rounds = [tmp_path / folder / "design.toml" for folder in ("first", "second")]  # as `examine` keeps each of them
    for path in rounds:
        path.parent.mkdir()
        path.write_text(v_file.read_text())
    names = [one.name for one in read_designs([v_file, *rounds])]
    assert names == ["small_v", "first/design", "second/design"]


def test_impossible_comparisons_are_refused(v_file):
    one = read_designs([v_file])[0]
    with pytest.raises(StudyError, match="needs at least two designs, received 1"):
        compare([one])
    with pytest.raises(StudyError, match="a name of its own, received 'small V' more than once"):
        compare([one, one])
    with pytest.raises(StudyError, match="one of the 2 designs, counted from 0, received 2"):
        compare([one, NamedDesign("other", one.design)], 2)


def test_a_design_that_cannot_be_solved_is_named(v_file):
    one = read_designs([v_file])[0]
    first = one.design.meridian[0]
    film = WallChoice(first.wall.layers[0].material, 1e-6)  # of 60 pm
    broken = with_walls(one.design, {first.zone.name: film})
    with pytest.raises(Exception, match=r"design 'broken': '.*' would need \d+ elements"):
        compare([one, NamedDesign("broken", broken)], orders=(0,), up_to_hz=2e3)


def test_an_unknown_figure_is_refused(stiffer):
    with pytest.raises(StudyError, match="no figure 'loudness' in this comparison; there are fundamental_hz"):
        stiffer.row("loudness")
