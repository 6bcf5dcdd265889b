"""Hand a Design to the independent Ritz solver: the reference where no closed form or table exists."""

from functools import lru_cache
from itertools import pairwise
from math import ceil, isinf, sqrt

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.meridian.edge import FREE, Edge
from diaphragm_fem.verify.references.ritz_shell import RitzShell, ShellPiece, axis_conditions

FLOOR_HZ = 5.0  # below lie rigid motions
DECAYS_PER_SERIES = 9.0  # edge-effect lengths sqrt(R h) that one Legendre series of degree 16 resolves to 1e-6


def _held(edge: Edge | None) -> tuple[str, ...]:
    edge = edge or FREE
    motions = {"r": edge.radial, "th": edge.circumferential, "z": edge.axial, "b": edge.rotation}
    return tuple(name for name, k in motions.items() if isinf(k))


def _split(piece: Piece) -> list[ShellPiece]:
    h, h_end = (float(piece.wall.thickness(x)) for x in (0.0, 1.0))
    material = piece.wall.layers[0].material
    curve = piece.curve
    size = float(curve.point(np.linspace(0, curve.length, 5))[:, 0].max())
    count = ceil(curve.length / (DECAYS_PER_SERIES * sqrt(size * min(h, h_end))))
    ends = np.linspace(0, 1, count + 1)
    loss = float(material.loss(1e3))
    return [
        ShellPiece(
            curve.part(a * curve.length, b * curve.length),
            h + (h_end - h) * a,
            material.youngs_modulus,
            material.poisson_ratio,
            material.density,
            loss,
            h + (h_end - h) * b,
        )
        for a, b in pairwise(ends)
    ]


@lru_cache(maxsize=256)
def ritz(design: Design, m: int, theory: str, degree: int = 16) -> RitzShell:
    """The design (walls of one layer, even or tapering, no former) for the Ritz solver, order m.

    theory "thin" leaves out shear and rotary inertia, "shear" is the theory of the shell model.
    """
    groups = [_split(piece) for piece in design.meridian]
    pieces = [item for group in groups for item in group]
    starts = np.cumsum([0, *[len(group) for group in groups]])
    on_axis = float(design.meridian[0].curve.point(0.0)[0]) < 1e-9
    begin = axis_conditions(m) if on_axis else _held(design.inner_edge)
    rings: tuple[tuple[int, float], ...] = ()
    if design.ring is not None and design.joint is not None:
        rings = ((int(starts[design.joint]), design.ring.mass),)
    return RitzShell(tuple(pieces), begin, _held(design.outer_edge), m, theory, degree, rings=rings)


def ritz_joint(design: Design) -> int:
    """Index of the drive circle among the split pieces."""
    groups = [len(_split(piece)) for piece in design.meridian]
    return int(np.sum(groups[: design.joint]))


@lru_cache(maxsize=512)
def _frequencies(design: Design, m: int, theory: str, count: int) -> tuple[float, ...]:
    layer = theory == "shear" and FREE in (design.inner_edge, design.outer_edge)
    return tuple(ritz(design, m, theory, 26 if layer else 16).frequencies(count, 2 * np.pi * FLOOR_HZ) / (2 * np.pi))


def ritz_frequencies(design: Design, m: int, count: int, theory: str = "thin") -> Array:
    """First `count` frequencies in Hz above FLOOR_HZ, which hides rigid motions.

    The shear theory has an edge layer as thin as the wall at a free edge: its series go up to degree 26.
    """
    return np.array(_frequencies(design, m, theory, count))
