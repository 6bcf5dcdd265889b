"""The workbench of the checks: simple designs made in Python, the same written in another way, and shared solves."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from math import inf

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.analysis.modes.modes import solve_modes
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design, Piece, Ring
from diaphragm_fem.design.material.material import LossFactor, Material
from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE, HINGED, Edge
from diaphragm_fem.design.meridian.wall import Layer, Wall, plain_wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.model.shell.shell import ShellModel, build_shell
from diaphragm_fem.model.solid.solid import SolidModel, build_solid
from diaphragm_fem.model.structure import Structure
from diaphragm_fem.verify.check import Pair

RADIUS = 0.025  # metres: the size of a small diaphragm, so that checks run where the tool is used
GUIDED = Edge(rotation=inf)  # slope held, free to move
DIAPHRAGM = Edge(radial=inf, circumferential=inf)  # shear diaphragm of a cylinder, and of a sphere at its equator
SYMMETRY = Edge(axial=inf, rotation=inf)  # mirror plane
ANTISYMMETRY = DIAPHRAGM
EDGES = {"C": CLAMPED, "S": HINGED, "F": FREE, "G": GUIDED, "SD": DIAPHRAGM}


def substance(
    nu: float = 0.3, E: float = 70e9, rho: float = 2700.0, eta: float = 0.0, name: str = "reference"
) -> Material:
    """A plain material of round numbers; most checks are dimensionless and do not depend on it."""
    return Material(name, rho, E, nu, LossFactor((eta,)))


def piece(curve: Curve, thickness: float, material: Material | None = None, zone: Zone | None = None) -> Piece:
    return Piece(curve, zone or Zone("wall", Role.DRIVEN), plain_wall(material or substance(), thickness))


def straight(h: float, *points: tuple[float, float], material: Material | None = None) -> list[Piece]:
    """Straight pieces from point to point (r, z), walls of one thickness, all per RADIUS."""
    at = [(r * RADIUS, z * RADIUS) for r, z in points]
    return [piece(Line(a, b), h * RADIUS, material) for a, b in pairwise(at)]


def part(
    name: str,
    pieces: Sequence[Piece],
    inner: Edge | None,
    outer: Edge | None,
    joint: int | None = None,
    ring: Ring | None = None,
) -> Design:
    """A Design from pieces, inner edge first; inner None where it starts on the axis."""
    return Design(name, tuple(pieces), inner, outer, joint, (), ring)


def disc(edge: Edge, thickness_ratio: float, *, material: Material | None = None, joint: int | None = None) -> Design:
    """Flat disc of radius RADIUS."""
    return part("disc", straight(thickness_ratio, (0.0, 0.0), (1.0, 0.0), material=material), None, edge, joint)


def annulus(inner: Edge, outer: Edge, ratio: float, thickness_ratio: float) -> Design:
    """Flat ring from ratio RADIUS to RADIUS."""
    return part("annulus", straight(thickness_ratio, (ratio, 0.0), (1.0, 0.0)), inner, outer)


def cap_arc(radius: float, begin: float, end: float) -> Arc:
    """Arc of a sphere about (0, 0) from polar angle `begin` to `end` (radians from the axis), front face outward."""
    return Arc((0.0, 0.0), radius, np.pi / 2 - begin, -(end - begin))


def plate_scale(thickness_ratio: float) -> float:
    """Hz per unit of x^2 = omega a^2 sqrt(rho h/D) for a plate of radius RADIUS."""
    h, plain = thickness_ratio * RADIUS, substance()
    stiffness = plain.youngs_modulus * h**3 / 12 / (1 - plain.poisson_ratio**2)
    return float(np.sqrt(stiffness / (plain.density * h)) / RADIUS**2 / (2 * np.pi))


def shell_scale(nu: float = 0.0) -> float:
    """Hz per unit of Omega = omega R sqrt(rho (1 - nu^2)/E) for a shell of radius RADIUS."""
    plain = substance()
    return float(np.sqrt(plain.youngs_modulus / plain.density / (1 - nu**2)) / RADIUS / (2 * np.pi))


@lru_cache(maxsize=64)
def shell(design: Design, top_hz: float, refine: int = 1) -> ShellModel:
    return build_shell(design, up_to_hz=top_hz, refine=refine)


@lru_cache(maxsize=64)
def shell_system(design: Design, m: int, top_hz: float, refine: int = 1) -> Structure:
    return shell(design, top_hz, refine).structure(m)


def shell_frequencies(design: Design, m: int, reference_hz: ArrayLike, refine: int = 2, nearest: bool = False) -> Array:
    """Frequencies in Hz of the modes that stand for the reference values: the first ones in order.

    The mesh is cut for the highest reference frequency by the tool's own rule. nearest: each reference value finds
    the closest mode instead, for lists that leave out in-plane modes.
    """
    reference = np.asarray(reference_hz, float)
    top = 1.15 * float(reference.max())
    return pick(solve_modes(shell_system(design, m, top, refine), top).frequency_hz, reference, nearest)


@lru_cache(maxsize=8)
def _solid(design: Design, top_hz: float) -> SolidModel:
    return build_solid(design, up_to_hz=top_hz)


def solid_system(design: Design, m: int, top_hz: float) -> Structure:
    return _solid(design, top_hz).structure(m)


def solid_frequencies(
    design: Design, m: int, reference_hz: ArrayLike, nearest: bool = False, mesh_hz: float = 0.0
) -> Array:
    """Frequencies in Hz of the solid model's modes that stand for the reference values.

    The section is cut for the highest of them, or for `mesh_hz` where that is higher.
    """
    reference = np.asarray(reference_hz, float)
    top = 1.15 * float(reference.max())
    return pick(solve_modes(_solid(design, max(top, mesh_hz)).structure(m), top).frequency_hz, reference, nearest)


def first_modes(design: Design, top_hz: float, refine: int = 2) -> Array:
    """Four frequencies (4, 4) in Hz of each of m = 0...3."""
    return np.array([solve_modes(shell_system(design, m, top_hz, refine), top_hz).frequency_hz[:4] for m in range(4)])


def modal(
    design: Design,
    orders: Sequence[int],
    exact: Callable[[int], ArrayLike],
    scale: float = 1.0,
    *,
    find: Callable[..., Array] = shell_frequencies,
    **how: object,
) -> Callable[[], Pair]:
    """The values of a check of frequencies: what is exact for each order m, in units of `scale` Hz, and what a model
    finds for it. `find` is shell_frequencies or solid_frequencies, `how` what it is to be told besides."""

    def values() -> Pair:
        wanted = {m: np.asarray(exact(m), float) for m in orders}
        found = [find(design, m, x * scale, **how) / scale for m, x in wanted.items()]
        return np.concatenate(list(wanted.values())), np.concatenate(found)

    return values


def pick(found: Array, reference: Array, nearest: bool) -> Array:
    """The found values that answer the reference values; nan where there are too few."""
    if nearest:
        return np.array([found[np.argmin(np.abs(found - value))] if len(found) else np.nan for value in reference])
    return np.concatenate((found, np.full(max(0, len(reference) - len(found)), np.nan)))[: len(reference)]


def _moved(curve: Curve, c_r: float, c_z: float) -> Curve:
    """A line or arc with r times c_r and z times c_z, |c_r| = |c_z|."""
    if isinstance(curve, Line):
        (a, b), (c, d) = curve.begin, curve.end
        return Line((a * c_r, b * c_z), (c * c_r, d * c_z))
    if isinstance(curve, Arc):
        turn = 1 if c_z > 0 else -1
        r, z = curve.centre
        return Arc((r * c_r, z * c_z), curve.radius * c_r, turn * curve.start, turn * curve.sweep)
    raise TypeError(f"only lines and arcs can be moved, received {type(curve).__name__}")


def with_layers(design: Design, change: Callable[[Layer], Layer]) -> Design:
    """The same meridian, every layer of its walls changed."""
    walls = (Wall(tuple(map(change, p.wall.layers))) for p in design.meridian)
    return replace(
        design, meridian=tuple(replace(p, wall=wall) for p, wall in zip(design.meridian, walls, strict=True))
    )


def scaled(design: Design, c: float) -> Design:
    """All lengths times c, the mass of a ring times c cubed."""
    larger = with_layers(design, lambda x: Layer(x.material, x.begin_thickness * c, x.end_thickness * c))
    pieces = tuple(replace(p, curve=_moved(p.curve, c, c)) for p in larger.meridian)
    return replace(design, meridian=pieces, ring=Ring(design.ring.mass * c**3) if design.ring else None)


def stiffer(design: Design, c: float) -> Design:
    """Every Young's modulus times c."""
    return with_layers(
        design, lambda x: replace(x, material=replace(x.material, youngs_modulus=x.material.youngs_modulus * c))
    )


def lossy(design: Design, eta: float = 0.05) -> Design:
    """The design with one loss factor in every wall."""
    return with_layers(design, lambda x: replace(x, material=replace(x.material, loss_factor=LossFactor((eta,)))))


def split(design: Design) -> Design:
    """Every piece cut in three."""
    pieces = tuple(
        p.part(a * p.curve.length, b * p.curve.length)
        for p in design.meridian
        for a, b in pairwise((0.0, 0.3, 0.6, 1.0))
    )
    return replace(design, meridian=pieces, joint=None if design.joint is None else 3 * design.joint)


def mirrored(design: Design) -> Design:
    """The design upside down."""
    return replace(design, meridian=tuple(replace(p, curve=_moved(p.curve, 1.0, -1.0)) for p in design.meridian))
