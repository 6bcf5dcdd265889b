"""From what the file says to the finished design: outline, corners, walls, coil, edges, checks."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import groupby
from math import inf
from typing import Any

from diaphragm_fem.design.design import Bead, Design, Piece
from diaphragm_fem.design.files.key_path import format_path
from diaphragm_fem.design.glued.bead import lay_beads
from diaphragm_fem.design.glued.coil import draw_former, make_ring
from diaphragm_fem.design.glued.overlap import lay_collar, lay_overlaps
from diaphragm_fem.design.library.library import find_material
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE, HINGED, Edge
from diaphragm_fem.design.meridian.outline import Outline, Point, begin, end
from diaphragm_fem.design.meridian.rounding import round_corners
from diaphragm_fem.design.meridian.wall import Wall
from diaphragm_fem.design.meridian.zone import Role
from diaphragm_fem.design.meridian.zone_walls import check_zone_tables, lay_walls, zone_wall
from diaphragm_fem.design.read.checks import check_geometry
from diaphragm_fem.design.spec.coil import FormerCoil, RingCoil
from diaphragm_fem.design.spec.file import DesignSpec, EdgeMotions
from diaphragm_fem.design.spec.profile import FreeProfile
from diaphragm_fem.errors import DesignError

ON_AXIS = 1e-9  # m: nearer to the axis than any wall is thick
EDGES = {"clamped": CLAMPED, "hinged": HINGED, "free": FREE}


def build_design(spec: DesignSpec, materials: Mapping[str, Material], outline: Outline, name: str) -> Design:
    """The design of a file on its outline; `name` where the file gives none."""
    walls = _walls(spec, outline, materials)
    drive = _drive(spec, outline)
    thickness = [(walls[x.zone.name] if x.wall is None else x.wall).thickest for x in outline.stretches]
    if drive != outline.drive:
        outline = replace(outline, drive_corner=None)
    rounded = round_corners(outline, thickness, drive)
    laid = lay_walls(rounded.runs, outline.stretches, walls, rounded.joint)
    meridian = tuple(
        Piece(run.curve, outline.stretches[run.stretch].zone, wall)
        for run, wall in zip(rounded.runs, laid, strict=True)
    )
    meridian, joint = lay_overlaps(meridian, rounded.joint, spec, materials)
    inner_edge, outer_edge = _edges(spec, outline, begin(meridian[0].curve), end(meridian[-1].curve))
    former: tuple[Piece, ...] = ()
    beads: tuple[Bead, ...] = ()
    ring = None
    if joint is not None and spec.coil is not None:
        at = begin(meridian[joint].curve) if joint < len(meridian) else end(meridian[-1].curve)
        if joint in (0, len(meridian)):
            _check_coil_is_free("outer" if joint else "inner", outer_edge if joint else inner_edge, at)
        if isinstance(spec.coil, FormerCoil):
            drawn = draw_former(spec.coil, at, walls, materials)
            former, beads = _glued(spec.coil, drawn, meridian, joint, materials)
        elif isinstance(spec.coil, RingCoil):
            ring = make_ring(spec.coil, at[0], materials)
    check_geometry(meridian, former)
    return Design(
        name=spec.name or name,
        meridian=meridian,
        inner_edge=inner_edge,
        outer_edge=outer_edge,
        joint=joint,
        former=former,
        beads=beads,
        ring=ring,
        by_points=isinstance(spec.profile, FreeProfile),
        notes=(
            *outline.notes,
            *rounded.notes,
            *_edges_taken(spec, inner_edge, outer_edge),
            *_zones_apart(meridian),
        ),
    )


def _walls(spec: DesignSpec, outline: Outline, materials: Mapping[str, Material]) -> dict[str, Wall]:
    """Wall by zone name, the former's and winding's among them."""
    zones = dict.fromkeys(stretch.zone for stretch in outline.stretches)
    names = [zone.name for zone in zones] + (["former", "winding"] if isinstance(spec.coil, FormerCoil) else [])
    check_zone_tables(spec.zones, names)
    walls = {}
    for zone in zones:
        if all(stretch.wall is not None for stretch in outline.stretches if stretch.zone == zone):
            continue
        walls[zone.name] = zone_wall(zone.name, wall_tables(spec, zone.name, *outline.walls.get(zone, ())), materials)
    if isinstance(spec.coil, FormerCoil):
        for part in ("former", "winding"):
            own = [(format_path(("zones", part)), spec.zones[part])] if part in spec.zones else []
            walls[part] = zone_wall(part, [*own, ("coil.former", spec.coil.former)], materials)
    return walls


def wall_tables(spec: DesignSpec, zone: str, *own: tuple[str, Any]) -> list[tuple[str, Any]]:
    """The wall tables that speak of a zone, the strongest first."""
    named = [(format_path(("zones", zone)), spec.zones[zone])] if zone in spec.zones else []
    return [*named, *own, ("wall", spec.wall)]


def _drive(spec: DesignSpec, outline: Outline) -> Point | None:
    """The drive circle asked for, or the profile's own; None for a part without a drive."""
    asked = None if spec.coil is None else spec.coil.diameter
    if asked is None:
        if spec.coil is not None and outline.drive is None:
            raise DesignError(
                "coil.diameter is missing: a free meridian has no drive circle of its own; give the diameter at "
                "which the coil "
                'sits, such as "65 mm"'
            )
        return outline.drive
    if outline.drive is not None and abs(asked / 2 - outline.drive[0]) < 1e-9:
        return outline.drive
    lowest = min((end(stretch.curve)[1] for stretch in outline.stretches), default=0.0)
    return asked / 2, lowest


def _glued(
    coil: FormerCoil,
    former: tuple[Piece, ...],
    meridian: Sequence[Piece],
    joint: int,
    materials: Mapping[str, Material],
) -> tuple[tuple[Piece, ...], tuple[Bead, ...]]:
    """The former with its collar on the wall, and the fillets of glue beside it."""
    if coil.collar is not None:
        beside, place = (meridian[joint - 1], 1.0) if joint else (meridian[0], 0.0)
        former = lay_collar(former, beside, place, coil.collar)
    if coil.fillet is None:
        return former, ()
    glue = find_material(materials, coil.fillet.material, where="coil.fillet.material")
    return former, lay_beads(meridian, joint, former, float(coil.fillet.radius), coil.fillet.side, glue)


def _check_coil_is_free(side: str, edge: Edge | None, at: Point) -> None:
    """Refuse a coil on an edge that is held along the axis."""
    if edge is not None and edge.axial == inf:
        raise DesignError(
            f"edges.{side}: this edge is held along the axis, and the coil sits on it, at a diameter of "
            f"{2e3 * at[0]:.4g} mm, so that nothing could move: put a surround between them, or let the edge move"
        )


def _edges_taken(spec: DesignSpec, inner: Edge | None, outer: Edge | None) -> list[str]:
    """What was taken for edges that the file says nothing of."""
    taken = [(side, edge) for side, edge in (("inner", inner), ("outer", outer)) if edge is not None]
    free = [side for side, edge in taken if getattr(spec.edges, side) is None and edge == FREE]
    held = [side for side, edge in taken if getattr(spec.edges, side) is None and edge == CLAMPED]
    told = ((" and the ".join(free), "free"), (" and the ".join(held), "clamped, as a surround is glued down"))
    return [f"the file says nothing of the {sides} edge: taken as {how}" for sides, how in told if sides]


def _zones_apart(meridian: Sequence[Piece]) -> list[str]:
    """Zones whose name comes again after another's; a surround may be one on both sides."""
    stretches = Counter(zone for zone, _ in groupby(piece.zone for piece in meridian))
    return [
        f"the zone '{zone.name}' is drawn in {count} stretches with others between, and its figures are of all of them "
        "together: give each a name of its own where it is another part"
        for zone, count in stretches.items()
        if count > 1 and zone.role is not Role.SURROUND
    ]


def _edges(spec: DesignSpec, outline: Outline, first: Point, last: Point) -> tuple[Edge | None, Edge | None]:
    edges: list[Edge | None] = []
    for side, (r, _), surround in zip(("inner", "outer"), (first, last), outline.surrounds, strict=True):
        given = getattr(spec.edges, side)
        if r < ON_AXIS:
            if given is not None:
                raise DesignError(
                    f"edges.{side}: this meridian meets the axis and has no {side} edge to hold; remove the key"
                )
            edges.append(None)
        elif given is None:
            edges.append(CLAMPED if surround else FREE)
        elif isinstance(given, EdgeMotions):
            edges.append(Edge(given.radial, given.circumferential, given.axial, given.rotation, given.loss_factor))
        else:
            edges.append(EDGES[given])
    return edges[0], edges[1]
