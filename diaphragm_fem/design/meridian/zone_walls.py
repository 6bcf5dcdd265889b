"""Which wall a zone has: the strongest table that speaks of it, the table [wall] for the rest."""

from collections.abc import Mapping, Sequence
from difflib import get_close_matches

from diaphragm_fem.design.files.key_path import format_path
from diaphragm_fem.design.library.library import find_material
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.outline import Stretch
from diaphragm_fem.design.meridian.rounding import Run
from diaphragm_fem.design.meridian.wall import Layer, Wall, plain_wall, stack_of
from diaphragm_fem.design.spec.wall import WallSpec
from diaphragm_fem.errors import DesignError

Tables = Sequence[tuple[str, WallSpec]]
MOST = 0.5 + 1e-9  # of a zone's length; equal halves are outward


def zone_wall(zone: str, tables: Tables, materials: Mapping[str, Material]) -> Wall:
    """The wall of a zone from its nearest-the-coil end to its far end.

    `tables` are the wall tables that speak of the zone, the strongest first, each with its key. Material and
    thickness are looked up one by one, so that a zone may change the one and keep the other; layers come whole.
    Raises DesignError where nothing gives the material or the thickness, and MaterialError for an unknown material.
    """
    material: tuple[str, str] | None = None
    thickness = None
    for key, table in tables:
        if table.layers is not None:
            if material is not None or thickness is not None:
                given = "a material" if material is not None else "a thickness"
                raise DesignError(
                    f"{key}.layers: the zone '{zone}' takes {given} from a nearer table and the rest from these "
                    "layers, which cannot be done; give it both material and thickness, or layers"
                )
            return stack_of(
                Layer(find_material(materials, layer.material, where=f"{key}.layers[{i}].material"), *layer.thickness)
                for i, layer in enumerate(table.layers)
            )
        if material is None and table.material is not None:
            material = (table.material, f"{key}.material")
        if thickness is None and table.thickness is not None:
            thickness = table.thickness
        if material is not None and thickness is not None:
            return Wall((Layer(find_material(materials, material[0], where=material[1]), *thickness),))
    lacking = "material" if material is None else "thickness"
    example = '"PEN film"' if material is None else '"60 um"'
    own = next((key for key, _ in tables if key != "wall"), format_path(("zones", zone)))
    if all(key != "wall" for key, _ in tables):
        raise DesignError(f"{own}.{lacking}: the zone '{zone}' has no {lacking}; give one, such as {example}")
    raise DesignError(
        f"wall.{lacking}: the zone '{zone}' has no {lacking}; give one for all zones, such as [wall] {lacking} = "
        f"{example}, or one of its own under {own}"
    )


def drawn_wall(zone: str, tables: Tables, materials: Mapping[str, Material], first: float, last: float) -> Wall:
    """The wall of a zone whose faces are drawn, thicknesses in metres at its two ends: the material alone is looked up.

    Raises DesignError where a table gives a thickness or layers as well, or nothing gives the material.
    """
    for key, table in tables:
        if table.gives_thickness:
            given = "thickness" if table.thickness is not None else "layers"
            raise DesignError(
                f"{key}.{given}: the drawing's two faces give the thickness of '{zone}'; remove this key, or draw the "
                "mid-line alone"
            )
        if table.material is not None:
            return plain_wall(find_material(materials, table.material, where=f"{key}.material"), first, last)
    raise DesignError(
        f"wall.material: the zone '{zone}' has no material; give one for all zones, such as [wall] material = "
        f'"PEN film", or one of its own under {format_path(("zones", zone))}'
    )


def check_zone_tables(given: Mapping[str, WallSpec], names: Sequence[str]) -> None:
    """Refuse a [zones.X] table whose zone the profile does not have."""
    for name in given:
        if name not in names:
            near = get_close_matches(name, names, n=1, cutoff=0.3)
            hint = f"did you mean '{near[0]}'? " if near else ""
            place = format_path(("zones", name))
            raise DesignError(f"{place}: this profile has no zone '{name}'; {hint}it has {', '.join(names)}")


def lay_walls(
    runs: Sequence[Run], stretches: Sequence[Stretch], walls: Mapping[str, Wall], joint: int | None
) -> list[Wall]:
    """Wall of each run: its share of the zone's wall by arc length, counted from the end nearest the coil.

    Zones most of which lies between axis and joint count inward, the others outward: a joint that moves off the border
    of one does not turn it round. A stretch with a wall of its own (a point-wise given thickness) keeps it, with its
    zone's has its share.
    """
    total, inside = dict[str, float](), dict[str, float]()
    begin: list[float] = []
    for k, run in enumerate(runs):
        name, length = stretches[run.stretch].zone.name, run.curve.length
        begin.append(total.get(name, 0.0))
        total[name] = begin[-1] + length
        inside[name] = inside.get(name, 0.0) + (length if k < (joint or 0) else 0.0)
    laid = []
    for run, start in zip(runs, begin, strict=True):
        stretch = stretches[run.stretch]
        name = stretch.zone.name
        wall = walls[name] if stretch.wall is None else stretch.wall
        if stretch.wall is not None and not stretch.zone_wide:
            laid.append(wall.part(*run.fractions))
        elif all(layer.begin_thickness == layer.end_thickness for layer in wall.layers):
            laid.append(wall)
        else:
            a, b = start / total[name], (start + run.curve.length) / total[name]
            laid.append(wall.part(1 - a, 1 - b) if inside[name] > MOST * total[name] else wall.part(a, b))
    return laid
