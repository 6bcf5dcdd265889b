"""Walls shared by the tests of section mesh and solid model: invented parts, put together by hand."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.linalg import eigsh
from skfem import ElementQuad2

from diaphragm_fem.analysis.modes.eigen import eigenpairs_below
from diaphragm_fem.design.design import Design, Piece, Winding
from diaphragm_fem.design.material.material import LossFactor, Material
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE, Edge
from diaphragm_fem.design.meridian.wall import Wall, plain_wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.model.joint.moduli import MIDDLE_HZ
from diaphragm_fem.model.solid import lines as solid_lines
from diaphragm_fem.model.solid.solid import SolidModel
from diaphragm_fem.model.structure import Structure

STEEL = Material("steel", 8000.0, 200e9, 0.3, LossFactor((0.0,)))
FILM = Material("film", 1360.0, 5e9, 0.35, LossFactor((0.02,)))
FOIL = Material("foil", 2700.0, 70e9, 0.33, LossFactor((0.003,)))
WALL = Zone("wall")
COIL = Zone("coil", Role.COIL)
MM = 1e-3


def part(
    pieces: list[Piece], inner: Edge | None = FREE, outer: Edge | None = FREE, joint: int | None = None, **more
) -> Design:
    return Design("part", tuple(pieces), inner, outer, joint, **more)


def wall_piece(curve, thickness: float | Wall, material: Material = STEEL, zone: Zone = WALL) -> Piece:
    return Piece(curve, zone, thickness if isinstance(thickness, Wall) else plain_wall(material, thickness))


def tube(radius: float, thickness: float, length: float, **edges) -> Design:
    return part([wall_piece(Line((radius, 0.0), (radius, length)), thickness)], **edges)


def sphere(radius: float, thickness: float) -> Design:
    """A complete hollow sphere, from pole to pole."""
    return part([wall_piece(Arc((0.0, 0.0), radius, np.pi / 2, -np.pi), thickness)], None, None)


def disc(radius: float, thickness: float, outer: Edge = CLAMPED) -> Design:
    return part([wall_piece(Line((0.0, 0.0), (radius, 0.0)), thickness)], None, outer)


def polygon(corners_mm: list[tuple[float, float]], thickness: float, material: Material = FILM, **more) -> Design:
    """Straight pieces with sharp kinks through the given corners."""
    corners = [(r * MM, z * MM) for r, z in corners_mm]
    zones = [Zone(f"zone {i}") for i in range(len(corners) - 1)]
    return part(
        [
            wall_piece(Line(a, b), thickness, material, zone)
            for (a, b), zone in zip(pairwise(corners), zones, strict=True)
        ],
        **more,
    )


STEPPED = [(8, 3), (9, 3), (12, 2), (12.5, 1.2), (16, 0), (19.5, 1.2), (20, 2), (23, 3), (24, 3)]


def stepped_v(thickness: float = 60e-6) -> Design:
    """A V with one step on each flank, flat surrounds and a wound former at its bottom; all kinks sharp."""
    design = polygon(STEPPED, thickness, inner=CLAMPED, outer=CLAMPED, joint=4)
    return replace(design, former=wound_former(16 * MM, 0.0))


def wound_former(r: float, z: float, thickness: float = 80e-6) -> tuple[Piece, ...]:
    middle, low = z - 2 * MM, z - 5 * MM
    wall = plain_wall(FILM, thickness)
    winding = Winding(0.4e-3, 4e4)
    return (Piece(Line((r, z), (r, middle)), COIL, wall), Piece(Line((r, middle), (r, low)), COIL, wall, winding))


def frequencies(structure: Structure, up_to_hz: float) -> np.ndarray:
    """Elastic modes in Hz at the moduli that joints are solved with, rigid ones left out."""
    squares = eigenpairs_below(structure.stiffness_at(MIDDLE_HZ), structure.mass, (2 * np.pi * up_to_hz) ** 2).squares
    return np.sqrt(np.maximum(squares[structure.rigid_modes :], 0)) / (2 * np.pi)


def lowest(structure: Structure, count: int = 6) -> np.ndarray:
    """The lowest frequencies in Hz of a part that is held, at the same moduli."""
    squares = eigsh(structure.stiffness_at(MIDDLE_HZ), count, structure.mass, sigma=0.0, return_eigenvectors=False)
    return np.sqrt(np.sort(squares)) / (2 * np.pi)


def mass_of(structure: Structure) -> float:
    """Mass in kg that moves where the whole part moves along the axis; its edges are free."""
    surface = structure.draw_surface()
    lifted = np.linalg.lstsq(surface.motion_z.toarray(), np.ones(len(surface.r)), rcond=None)[0]
    return float(lifted @ structure.mass @ lifted)


def motion_at_nodes(model: SolidModel, m: int) -> tuple[csr_matrix, csr_matrix, csr_matrix]:
    """Sparse maps (N, n) from the unknowns of order m to u, v, w in m at the section's points (corners first)."""
    section, to_free = model.section, model.walls(m)[1]
    count = section.cells.shape[1]
    holder = np.full(section.points.shape[1], -1)
    cell, corner = np.meshgrid(np.arange(count), np.arange(9))
    holder[section.cells.ravel()] = corner.ravel() * count + cell.ravel()
    place = ElementQuad2.doflocs[holder // count].T[:, :, None]
    points = solid_lines.MiddleLine(
        holder % count, model.shapes.at(place), section.points[:, :, None], np.zeros_like(place)
    )
    pick = np.ones((len(holder), 1), bool)
    u, v, w = (to_free.map(solid_lines.sample_map(model.shapes, points, component, pick)) for component in range(3))
    return u, v, w
