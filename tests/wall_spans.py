"""Spans of walls of the demonstrations, of a range of 25 to 100 um."""

from collections.abc import Callable

from places import STUDIES

from diaphragm_fem.answer.walls.family import SAMPLED, TRIED, WallSpan, wall_family, wall_span
from diaphragm_fem.answer.walls.line import Walls
from diaphragm_fem.design.library.library import find_material, load_materials
from diaphragm_fem.design.meridian.zone import Role
from diaphragm_fem.design.read.read import read_design_file
from diaphragm_fem.design.wall_choice import WallChoice

LOW, HIGH = 25e-6, 100e-6


def span_of(name: str, material: str, expected: int) -> tuple[WallSpan, Callable[[float], Walls]]:
    """The span of a design of studies/ in a material of the library, for so many walls, and what makes the walls at a
    share 0 ... 1 of the range."""
    design = read_design_file(STUDIES / f"{name}.toml").design
    lead = next(piece for piece in design.meridian if piece.zone.role is Role.DRIVEN).wall.own
    zones = {piece.zone.name for piece in design.meridian if piece.wall.own == lead}
    made_of = find_material(load_materials(), material)

    def walls(share: float) -> Walls:
        return dict.fromkeys(zones, WallChoice(made_of, LOW * (HIGH / LOW) ** share / lead.layers[0].begin_thickness))

    samples, tries = ([walls(share) for share in shares] for shares in (SAMPLED, TRIED))
    span = wall_span(wall_family(design, samples), samples, tries, expected=expected)
    assert span is not None
    return span, walls
