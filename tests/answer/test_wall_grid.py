"""One design in every material and thickness: against the same designs solved one by one, and against scaling laws."""

from dataclasses import replace

import numpy as np
import pytest
from driver_cases import driver_data
from places import STUDIES

from diaphragm_fem.analysis.figures.definitions import difference
from diaphragm_fem.answer.driver.driver import quick_figures
from diaphragm_fem.answer.driver.figures import driver_figure_names
from diaphragm_fem.answer.driver.loaded import load_design_on
from diaphragm_fem.answer.quick import quick
from diaphragm_fem.answer.walls.grid import read_wall_grid, wall_grid
from diaphragm_fem.answer.walls.quick_walls import quick_walls
from diaphragm_fem.design.design import Design, Piece, Ring
from diaphragm_fem.design.library.library import load_materials
from diaphragm_fem.design.material.material import LossFactor, Material
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import CLAMPED
from diaphragm_fem.design.meridian.wall import Layer, Wall, plain_wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.design.read.read import design_from, load_design
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.errors import MaterialError, StudyError, UnusualError
from diaphragm_fem.model.joint import cut, kinds
from diaphragm_fem.report.contents.walls import wall_grid_blocks

FILM = Material("film", 1360.0, 5.2e9, 0.38, LossFactor((0.015,)))
TWIN = Material("film with four times the modulus and density", 4 * 1360.0, 4 * 5.2e9, 0.38, LossFactor((0.015,)))
METAL = Material("metal", 2700.0, 70e9, 0.33, LossFactor((0.005,)))
SOFT = Material("rubber", 1100.0, 5e6, 0.49, LossFactor((0.1,)))
CONE, BEYOND = Zone("cone", Role.DRIVEN, "outer"), Zone("beyond", Role.BEYOND, "outer", 1)
STEP, SURROUND = Zone("step", Role.STEP, "outer", 1), Zone("surround", Role.SURROUND, "outer")
MICRONS = np.array([40e-6, 55e-6, 80e-6])


def _cone(film: Wall, *, step: Wall | None = None) -> Design:
    """A stepped cone driven at its inner edge."""
    pieces = (
        Piece(Line((0.020, 0.0), (0.026, 0.004)), CONE, film),
        Piece(Line((0.026, 0.004), (0.027, 0.004)), STEP, step or plain_wall(FILM, 25e-6)),
        Piece(Line((0.027, 0.004), (0.033, 0.008)), BEYOND, film),
        Piece(Line((0.033, 0.008), (0.036, 0.008)), SURROUND, plain_wall(SOFT, 200e-6)),
    )
    return Design("stepped cone", pieces, outer_edge=CLAMPED, joint=0, ring=Ring(0.5e-3, 2e3))


@pytest.fixture(scope="module")
def grid():
    return wall_grid(_cone(plain_wall(FILM, 60e-6)), [FILM, TWIN, METAL], list(MICRONS[::-1]), up_to_hz=8e3, checks=3)


def test_zones_that_share_the_driven_wall_vary_together(grid):
    assert grid.zones == ("cone", "beyond")
    assert grid.thickness == pytest.approx(MICRONS)  # put in rising order
    assert (grid.drawn_material, grid.drawn_thickness) == ("film", 60e-6)


def test_the_wall_as_drawn_has_one_number():
    """That of a mesh of its own, as an examination tells it: 12.6 kHz stood in the map beside 12.7 kHz above it. Only
    that wall: one 5 nm thicker was told as it."""
    found = wall_grid(_cone(plain_wall(FILM, 60e-6)), [METAL, FILM], [40e-6, 60e-6, 60.005e-6], up_to_hz=8e3, checks=0)
    for name, value in found.as_drawn.items():
        assert found.figures[name][1, 1] == pytest.approx(np.nan if value is None else value, rel=1e-12, nan_ok=True)
    hz = found.figures["fundamental_hz"][1]
    assert found.as_drawn["fundamental_hz"] not in (hz[0], hz[2])


def test_a_wall_that_tapers_keeps_its_taper(monkeypatch):
    """Both zones run from 60 to 45 um, the inner one back: a thickness is that of the thickest place. Read from a span,
    each is the design solved alone; as loosely as even walls."""
    monkeypatch.setattr("diaphragm_fem.answer.walls.grid.WORTH", 3)
    drawn = _cone(plain_wall(FILM, 45e-6, 60e-6))
    beyond = replace(drawn.meridian[2], wall=plain_wall(FILM, 60e-6, 45e-6))
    drawn = replace(drawn, meridian=(*drawn.meridian[:2], beyond, drawn.meridian[3]))
    found = wall_grid(drawn, [FILM], [40e-6, 55e-6, 60e-6], up_to_hz=8e3, checks=2)
    assert (found.zones, found.drawn_thickness, found.thinnest) == (("cone", "beyond"), 60e-6, 0.75)
    assert " to 60.0 µm at its thickest place; its taper to 75 % of that stays." in str(wall_grid_blocks(found))
    own, (cone, step, flank, surround) = plain_wall(FILM, 45e-6 * 55 / 60, 55e-6), drawn.meridian
    alone = replace(drawn, meridian=(replace(cone, wall=own), step, replace(flank, wall=own.reverse()), surround))
    for name, value in quick(alone, up_to_hz=8e3).figures.table().items():
        at = found.figures[name][0, 1]
        assert difference(name, None if np.isnan(at) else at, value) < 1e-2, name
    assert 0 < max(found.error.values()) < 2e-2


def test_walls_of_two_drawn_faces_vary_as_those_written():
    """Faces tell each zone's thickness to the last digits alone: the inner driven zone was varied by itself, "tapering
    to 100 %", and a film of 75 um told to be the best of a part whose best was the 50 um that it has."""
    grids = [wall_grid(load_design(STUDIES / f"{name}_v.toml"), [FILM], [75e-6], up_to_hz=5e3, checks=0)
             for name in ("drawn", "stepped")]  # fmt: skip
    drawn, written = grids
    assert set(drawn.zones) == set(written.zones) and len(written.zones) == 4
    assert drawn.thinnest == 1 and drawn.drawn_thickness == pytest.approx(50e-6)
    for name, value in written.figures.items():
        assert drawn.figures[name] == pytest.approx(value, rel=1e-5, abs=1e-5, nan_ok=True), name


def test_a_break_up_mode_beyond_the_range_is_the_full_model_s():
    """The small basis knows nothing above the range: what it told of modes there was up to 42 % off."""
    grid = read_wall_grid(STUDIES / "stepped_v.toml", ["beryllium"], ["25 um", "36 um", "200 um"], up_to_hz=20e3)
    assert np.all(grid.figures["break_up_mode_hz"] > 20e3)
    walls = dict.fromkeys(grid.zones, WallChoice(grid.materials[0], 36e-6 / grid.drawn_thickness))
    alone = quick(with_walls(grid.design, walls)).figures.break_up_mode_hz
    assert grid.figures["break_up_mode_hz"][0, 1] == pytest.approx(alone, rel=1e-3)


def test_every_cell_is_the_design_solved_alone(grid):
    """Within 1e-2 on every figure: 3.6e-3 of a decibel measured, where elements beside a joint are longer alone than on
    the mesh of all (bare, which knows no joints, 2e-3)."""
    for row, material in enumerate(grid.materials):
        for column, h in enumerate(grid.thickness):
            walls = dict.fromkeys(grid.zones, WallChoice(material, h / 60e-6))
            alone = quick(with_walls(grid.design, walls), up_to_hz=8e3).figures.table()
            for name, value in alone.items():
                found = grid.figures[name][row, column]
                assert difference(name, None if np.isnan(found) else found, value) < 1e-2, name


def test_checked_cells_tell_the_error(grid):
    stiffest = max(range(len(grid.materials)), key=lambda m: grid.materials[m].youngs_modulus)
    assert len(grid.checked) == 3 and (stiffest, len(grid.thickness) - 1) in grid.checked
    assert any(0 < column < len(grid.thickness) - 1 or row != stiffest for row, column in grid.checked)
    assert 0 < grid.error["fundamental_hz"] < 2e-3
    assert grid.error["moving_mass_kg"] < 1e-3  # 2.1e-4 measured


def test_as_drawn_is_the_design_itself(grid):
    assert grid.as_drawn["fundamental_hz"] == pytest.approx(quick(grid.design, up_to_hz=8e3).figures.fundamental_hz)


def test_a_modulus_scales_the_stiffness_of_a_wall_that_stands_alone():
    """A cone without step and surround, clamped: k ~ E exactly, and the film's share of the moving mass ~ density."""
    piece = Piece(Line((0.020, 0.0), (0.030, 0.004)), CONE, plain_wall(FILM, 60e-6))
    bare = Design("bare", (piece,), outer_edge=CLAMPED, joint=0, ring=Ring(0.0, 0.0))
    found = wall_grid(bare, [FILM, TWIN], [60e-6], up_to_hz=20e3, checks=1)
    stiffness, mass = found.figures["stiffness_n_per_m"][:, 0], found.figures["moving_mass_kg"][:, 0]
    assert stiffness[1] / stiffness[0] == pytest.approx(4.0, rel=1e-6)
    assert mass[1] / mass[0] == pytest.approx(4.0, rel=1e-6)
    assert found.figures["fundamental_hz"][1, 0] == pytest.approx(found.figures["fundamental_hz"][0, 0], rel=1e-6)


FILE = """
name = "cone"
[wall]
material = "house film"
thickness = "60 um"
[profile]
kind = "v"
coil_diameter = "40 mm"
[profile.outer]
width = "10 mm"
rise = "6 mm"
surround = {kind = "half-roll", width = "3 mm", material = "nitrile rubber", thickness = "0.2 mm"}
[coil]
kind = "ring"
mass = "0.5 g"
[materials."house film"]
based_on = "PEN film"
youngs_modulus = "6 GPa"
"""


def test_a_grid_from_a_file_knows_the_file_s_own_materials(tmp_path):
    path = tmp_path / "cone.toml"
    path.write_text(FILE)
    found = read_wall_grid(path, ["house film", "titanium"], ["50 um", "2 mil"], up_to_hz=5e3)
    assert [material.name for material in found.materials] == ["house film", "titanium"]
    assert found.materials[0].youngs_modulus == 6e9
    assert found.thickness == pytest.approx([50e-6, 50.8e-6])
    with pytest.raises(MaterialError, match="unknown material 'house fim'"):
        read_wall_grid(path, ["house fim"], ["50 um"])


def test_walls_thicker_than_any_that_is_formed_of_their_material_are_asked_about(tmp_path):
    """As in every other verb; of metal the same thickness is within 0.02 of the radius, of film it is no film."""
    path = STUDIES / "straight_v.toml"
    with pytest.raises(UnusualError, match=r"--thickness: of PEN film: film thickness = 0.45 mm in '.*'; a film is"):
        read_wall_grid(path, ["titanium", "PEN film"], ["50 um", "0.45 mm"], up_to_hz=1e3)
    with pytest.raises(UnusualError, match=r"--thickness: of titanium: wall to radius = .*\n.*give --allow-unusual"):
        read_wall_grid(path, ["titanium"], ["50 um", "1 mm"], up_to_hz=1e3)
    meant = tmp_path / "meant.toml"
    meant.write_text('unusual = ["film thickness"]\n' + path.read_text(encoding="utf-8"), encoding="utf-8")
    for file, allowed in ((path, True), (meant, False)):
        found = read_wall_grid(file, ["PEN film"], ["0.45 mm"], up_to_hz=1e3, allow_unusual=allowed)
        assert found.thickness == pytest.approx(0.45e-3)


def test_impossible_grids_are_refused():
    cone = _cone(plain_wall(FILM, 60e-6))
    with pytest.raises(StudyError, match=r"at least one material and one thickness, received 0 and 1$"):
        wall_grid(cone, [], [50e-6])
    with pytest.raises(StudyError, match="must be named once, received 'film' 2 times"):
        wall_grid(cone, [FILM, FILM], [50e-6])
    with pytest.raises(StudyError, match="each thickness of a grid must be named once, received 50 um 2 times"):
        wall_grid(cone, [FILM], [50e-6, 0.05e-3 + 1e-20])  # as 50 um and 0.05 mm are read
    with pytest.raises(StudyError, match="must be above 0 um, received -5 um"):
        wall_grid(cone, [FILM], [-5e-6])
    layered = Wall((Layer(FILM, 30e-6, 30e-6), Layer(METAL, 5e-6, 5e-6)))
    with pytest.raises(StudyError, match=r"cone: a grid varies walls of one layer, .*; let a key of one layer vary"):
        wall_grid(_cone(layered), [FILM], [50e-6])


def test_many_thicknesses_are_answered_from_a_span_of_each_material(monkeypatch):
    """Enough of them to pay for a span: none but the checks and the samples are solved in full."""
    solved = []
    monkeypatch.setattr(
        "diaphragm_fem.answer.walls.grid.quick_walls",
        lambda group, many: solved.extend([type(group).__name__] * len(many)) or quick_walls(group, many),
    )
    monkeypatch.setattr("diaphragm_fem.answer.machine.cores.cores", lambda: 1)
    found = wall_grid(_cone(plain_wall(FILM, 60e-6)), [FILM, METAL], np.geomspace(30e-6, 90e-6, 24), up_to_hz=8e3)
    assert solved == ["WallSpan"] * 48
    # 4.1e-3 measured, of a metal: elements beside joints are shorter on the mesh of all than on its own, which itself
    # is 2e-3 off; the span adds 1e-5
    assert max(found.error.values()) < 2e-2


def test_few_thicknesses_are_cut_once_whatever_they_are_made_of(monkeypatch):
    """A second material of the same Poisson ratio needs no cut of its own."""
    monkeypatch.setattr("diaphragm_fem.answer.machine.cores.cores", lambda: 1)

    def cuts(*materials):
        monkeypatch.setattr(kinds, "_KNOWN", {})
        cut._cut.cache_clear()
        wall_grid(_cone(plain_wall(FILM, 60e-6)), materials, MICRONS, up_to_hz=8e3, checks=0)
        return cut._cut.cache_info().misses

    assert cuts(FILM, TWIN) == cuts(FILM) > 0


def test_walls_in_their_driver_are_those_solved_alone(monkeypatch):
    """A cell besides the samples, everything on: from a span that holds what the gap pushes, one air and one gap, as by
    a design of its own.
    """
    monkeypatch.setattr("diaphragm_fem.answer.walls.grid.WORTH", 3)
    drawn = design_from(driver_data("straight_v"), folder=STUDIES)
    known = load_materials()
    grid = wall_grid(drawn, [known["paper"]], [40e-6, 55e-6, 70e-6], up_to_hz=8e3, checks=2)
    walls = dict.fromkeys(grid.zones, WallChoice(known["paper"], 55e-6 / 50e-6))
    alone = quick_figures(load_design_on(with_walls(drawn, walls), up_to_hz=8e3)).figures()
    for name in ("median_level_db", "level_spread_db", "loaded_fundamental_hz", "efficiency", "excursion_m"):
        assert grid.figures[name][0, 1] == pytest.approx(alone[name], rel=1e-3), name  # 1e-4 measured
        assert grid.error[name] < 1e-3, name
    assert set(grid.as_drawn) >= set(driver_figure_names({"motor": {}}))


def test_walls_with_a_surround_glued_on_are_those_solved_alone():
    """What lies on the dome stays as it is; every cell is the design with another wall, ends and joints known."""
    known, corners = load_materials(), {"profile.corner_radius": "0.5 mm", "profile.surround.corner_radius": "0.5 mm"}
    metals = [known["aluminium alloy"], known["titanium"]]
    grid = wall_grid(load_design(STUDIES / "metal_dome.toml", corners), metals, [25e-6, 40e-6], up_to_hz=8e3, checks=1)
    assert grid.zones == ("dome",)
    changes = {**corners, "wall.thickness": "40 um", "wall.material": "titanium"}
    alone = quick(load_design(STUDIES / "metal_dome.toml", changes), up_to_hz=8e3).figures.table()
    for name in ("fundamental_hz", "break_up_mode_hz", "moving_mass_kg", "low_area_m2"):
        assert grid.figures[name][1, 1] == pytest.approx(alone[name], rel=1e-3), name
