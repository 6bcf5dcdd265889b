"""Many walls on one meridian: designs that differ in material and thickness share one mesh, its joints, small bases.

Where only the thickness of given materials varies, modes and answers of a few samples span those of all walls nearly,
and a wall's equations become small and dense. Other materials need a span of their own. The small matrices are those of
the shell itself, with thick walls and joints, turned onto the span; what new joints yield is read along a `WallLine`.
Source of the idea: Quarteroni, Manzoni and Negri, Reduced Basis Methods for Partial Differential Equations (2016), ch.
3 (named from memory).
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from diaphragm_fem.answer.quick import Whole
from diaphragm_fem.answer.walls.line import Ends, WallLine, Walls, known_on
from diaphragm_fem.answer.walls.matrices import MatrixStretch, matrix_stretches
from diaphragm_fem.answer.walls.motion import (
    BASIS_CUT,
    apart_area,
    apart_hz,
    break_up_reach,
    missed_hz,
    modes_of,
    motion_of,
    own_answers,
)
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.wall_choice import with_walls
from diaphragm_fem.errors import StudyError
from diaphragm_fem.mesh.meridian import MeridianMesh, mesh_meridian
from diaphragm_fem.model.joint.correction import KnownJoints
from diaphragm_fem.model.joint.joints import kinds_of
from diaphragm_fem.model.joint.kind import Kind
from diaphragm_fem.model.joint.mesh import cut_beside_joints
from diaphragm_fem.model.projected import projected, turned_by
from diaphragm_fem.model.shell.added import wound_terms
from diaphragm_fem.model.shell.front_face import Face, shell_face
from diaphragm_fem.model.shell.line import OrderTerms
from diaphragm_fem.model.shell.shell import ShellModel
from diaphragm_fem.model.shell.walls import matrices_of_each
from diaphragm_fem.model.structure import MASS, Structure, Term

TOLERANCE = 3e-4  # of the larger of |S| and the low area: beyond it a wall's own vectors join the span
SAMPLED = (0.0, 0.146, 0.5, 0.854, 1.0)  # of a range of thickness, evenly in its logarithm: what a span is made from
TRIED = (0.323, 0.677, 0.073, 0.927, 0.23, 0.77, 0.41, 0.59)  # and held against, those farthest from the others first
NARROW_CUT, AT_REST = 6e-5, 10.0  # of what walls of one stretch span, where the fundamental was else 1e-4 off
HELD = 2  # of the walls that a span is held against have their joints solved as well
MISREAD, MISREAD_AREA = 1e-4, 1e-3  # of a frequency, of the area: beyond, a joint takes more care, at last is solved
MISREAD_HELD = MISREAD_AREA / 4  # at walls that are held: of 37 others the worst was at most 3.9 times as far off


@dataclass(frozen=True, eq=False)
class WallFamily:
    """A base design's shell on a mesh for all of its walls; face: the base design's front, which pressure pushes on."""

    model: ShellModel
    face: Face

    @property
    def base(self) -> Design:
        return self.model.design

    @property
    def up_to_hz(self) -> float:
        return self.model.mesh.up_to_hz

    def structure(self, walls: Walls, known: KnownJoints | None = None) -> Structure:
        """The structure of the base design with some zones' walls changed; known: what its joints yield. Raises
        StudyError for a zone that is not there."""
        return self.structures([walls], [known])[0]

    def structures(self, many: Sequence[Walls], known: Sequence[KnownJoints | None] | None = None) -> list[Structure]:
        """The same of several walls, the terms of their walls before those of the frame."""
        frame, order = self.frame
        shells = [self._on(walls, joints) for walls, joints in zip(many, known or [None] * len(many), strict=True)]
        found = []
        every = matrices_of_each([shell.shell_walls for shell in shells], [order] * len(shells))
        for shell, own in zip(shells, every, strict=True):
            terms = (*shell.wall_terms(order, own), *shell.held_along(order), *frame.terms)
            volume, area = shell.swept(order)
            found.append(replace(frame, terms=terms, volume=volume, zone_area=area))
        return found

    def joint_kinds(self, walls: Walls) -> list[Kind]:
        """The joints of the base design with some zones' walls changed."""
        return self._on(walls, None).joint_kinds

    def _on(self, walls: Walls, known: KnownJoints | None) -> ShellModel:
        unknown = set(walls) - {zone.name for zone in self.base.zones}
        if unknown:
            zones = [zone.name for zone in self.base.zones]
            raise StudyError(f"no zone is called {sorted(unknown)}; the design has {zones}")
        return self.model.with_walls(with_walls(self.base, walls), known)

    @cached_property
    def frame(self) -> tuple[Structure, OrderTerms]:
        """Everything but the walls and what their faces sweep."""
        order = self.model.line.order_terms(0)
        frame = self.model.frame(order)
        return replace(frame, terms=(*wound_terms(self.model.line, order), *frame.terms)), order


def wall_family(
    base: Design, samples: Sequence[Walls], *, up_to_hz: float = 20e3, corrected: bool = True
) -> WallFamily:
    """Prepare a family around a base design; the mesh serves the most demanding of it and of some sample walls, and is
    cut beside the joints of each (break-up mode of a stepped V of beryllium foil: else 0.9 % too low).

    Raises StudyError where a wall that varies has several layers of its own.
    """
    varied = {name for walls in samples for name in walls}
    for piece in base.pieces:
        if piece.zone.name in varied and len(piece.wall.own.layers) != 1:
            raise StudyError(
                f"{piece.zone.name}: only walls of one layer can vary on one mesh, received "
                f"{len(piece.wall.own.layers)} layers"
            )
    designs = [base, *(with_walls(base, walls) for walls in samples)]
    stations = zip(*(mesh_meridian(design, up_to_hz).stations for design in designs), strict=True)
    mesh = MeridianMesh(base, tuple(max(options, key=len) for options in stations), up_to_hz)
    for design in designs if corrected else ():
        of_walls = replace(mesh, design=design)
        mesh = replace(cut_beside_joints(of_walls, kinds_of(of_walls)), design=base)
    model = ShellModel(mesh, corrected)
    return WallFamily(model, shell_face(model.line, model.line.order_terms(0), corrected))


@dataclass(frozen=True, eq=False)
class WallSpan:
    """A family on a small basis (n, N), where some of its walls lie; frame: everything but walls there; face: its
    front, sweeping what the small unknowns do; line: where joints and matrices of its walls are read, if they lie on
    one; reach_hz: up to where it has their modes, the range or as far as their break-up modes lie; expected: how many
    walls on it will be asked for; narrows: whether structures that are read may have fewer unknowns, which `face` does
    not know.
    """

    family: WallFamily
    basis: Array
    frame: Structure
    face: Face
    line: WallLine | None
    reach_hz: float
    expected: int = 0
    narrows: bool = True

    def structure(self, walls: Walls) -> Structure:
        """The small structure of the base design with some zones' walls changed."""
        return self.structures([walls])[0]

    def structures(self, many: Sequence[Walls]) -> list[Structure]:
        """The same of several walls, those that are not read made side by side."""
        read = [self._read_at(walls) for walls in many]
        made = iter(self._made([walls for walls, own in zip(many, read, strict=True) if own is None]))
        return [own or next(made) for own in read]

    def _read_at(self, walls: Walls) -> Structure | None:
        place = None if self.line is None else self.line.place(walls)
        if place is None:
            return None
        within = (x for x in self._read if x.places[0] <= place <= x.places[-1])
        return next((stretch.read(place) for stretch in within), None)

    def whole(self, walls: Walls, small: Structure) -> Whole:
        """In what modes of some walls are sought beyond the range: in their small structure as far as that reaches."""
        return lambda top_hz: (
            small if top_hz <= self.reach_hz else self.family.structure(walls, known_on(self.line, walls))
        )

    def _made(self, many: Sequence[Walls]) -> list[Structure]:
        return self._turned(many, [known_on(self.line, walls) for walls in many])

    def _turned(self, many: Sequence[Walls], known: Sequence[KnownJoints | None]) -> list[Structure]:
        """The structures of some walls, made: of the shell's own terms those of its walls alone are turned, and all
        that is mass there is one term."""
        found, frame = [], len(self.family.frame[0].terms)
        for own in self.family.structures(many, known):
            terms = own.terms[: len(own.terms) - frame]
            turned = [replace(term, matrix=turned_by(term.matrix, self.basis)) for term in terms]
            elastic = [term for term in turned if term.derivatives != MASS]
            mass = Term(sum(term.matrix for term in turned if term.derivatives == MASS), derivatives=MASS)
            volume, area = own.volume @ self.basis, own.zone_area
            terms = (*elastic, mass, *self.frame.terms)
            found.append(replace(self.frame, terms=terms, volume=volume, zone_area=area))
        return found

    @cached_property
    def _read(self) -> list[MatrixStretch]:
        if self.line is None or not self.expected:
            return []
        moves, up_to_hz = self._moves if self.narrows else None, self.family.up_to_hz
        return matrix_stretches(self.line, self.expected, self._made, moves, self._narrow, up_to_hz, self.reach_hz)

    def _moves(self, structure: Structure) -> Array:
        """What one of its walls moves like (N, M)."""
        basis, _ = motion_of(structure, self.family.up_to_hz, None, AT_REST)
        beyond = self.reach_hz > self.family.up_to_hz
        return np.hstack((basis, modes_of(structure, self.reach_hz))) if beyond else basis

    def _narrow(self, bases: Sequence[Array]) -> Array:
        """What some of its walls span alone (N, n): so few unknowns that no wall between needs a basis of its own."""
        stacked = np.hstack(bases)
        return stacked @ _leading(self.basis @ stacked, NARROW_CUT)

    def misread(self, walls: Walls, joints: Collection[Ends] | None = None) -> tuple[float, float]:
        """By how much frequencies up to the top, relative, and the area, over the larger of |S| and the low area, are
        off because joints are read, some or all of them."""
        up_to_hz, line = self.family.up_to_hz, self.line
        exact = None if joints is None or line is None else line.known(walls, joints)
        read, solved = self._turned([walls, walls], [known_on(line, walls), exact])
        return apart_hz(read, solved, up_to_hz), apart_area(read, own_answers(solved, up_to_hz))


def wall_span(
    family: WallFamily,
    samples: Sequence[Walls],
    tries: Sequence[Walls],
    patterns: Array | None = None,
    *,
    expected: int = 0,
    narrows: bool = True,
) -> WallSpan | None:
    """The span of a family's sample walls, held against others: those of `tries` that it misses by more than 3e-4 of
    the low area, or where it reaches beyond the range by 1e-4 of a frequency up to there, join it at once, until two in
    a row are met, which join it, too; None where that does not happen.
    Joints are read along the line of the walls where that leaves frequencies of the first two of them, and of those
    farthest from the patches that it is read through, within 1e-4, and their area within a quarter of 1e-3.

    patterns: of force (n, P), whose static answers join: what a chamber before the face does; expected: how many walls
    on the line will be asked for, where matrices are read where that pays; narrows: see `WallSpan`.
    """
    line = line_of(family, samples)
    structures = family.structures(samples, [known_on(line, walls) for walls in samples])
    moved = [motion_of(structure, family.up_to_hz, patterns) for structure in structures]
    bases, reach_hz = [basis for basis, _ in moved], max(break_up_reach(reduced) for _, reduced in moved)
    if reach_hz > family.up_to_hz:
        bases += [modes_of(structure, reach_hz) for structure in structures]
    found, met = _span(family, bases, line, reach_hz), 0
    for walls in tries:
        structure = family.structure(walls, known_on(line, walls))
        basis, reduced = motion_of(structure, family.up_to_hz, patterns)
        bases.append(basis)
        small = projected(structure, found.basis)
        missed = not apart_area(small, reduced) < TOLERANCE
        if reach_hz > family.up_to_hz:
            bases.append(modes_of(structure, reach_hz))
            missed |= not missed_hz(small, bases[-1], structure, reach_hz) < MISREAD
        met = 0 if missed else met + 1
        if met == 2:
            span = _held(_span(family, bases, line, reach_hz), tries[:HELD])
            return replace(span, expected=expected, narrows=narrows)
        if missed:
            found = _span(family, bases, line, reach_hz)
    return None


def line_of(family: WallFamily, samples: Sequence[Walls]) -> WallLine | None:
    """The line that all of some walls lie on, where the joints of their span, and its matrices, are read; None where
    they lie on none, or thickness is not all that differs."""
    mesh, jointed = family.model.mesh, family.model.corrected
    lines = [WallLine(family.base, mesh, samples[0], other, jointed) for other in samples[1:]]
    longest = max((line for line in lines if line.straight), key=lambda line: line.length, default=None)
    return longest if longest and all(longest.place(walls) is not None for walls in samples) else None


def _held(span: WallSpan, walls: Sequence[Walls]) -> WallSpan:
    """A span whose line is held against walls with solved joints (a sixth of what a span takes). As long as it fails,
    the joint that alone is farthest off takes more care, at last solved for every wall.
    """
    met = set[tuple[float | None, tuple[tuple[Ends, int], ...]]]()
    while (line := span.line) is not None and line.jointed:
        every = [ends for ends, stretches in line.read.items() if stretches]
        for some, joints in [*((some, every) for some in walls), *line.between]:
            check = line.place(some), tuple((ends, line.care.get(ends, 0)) for ends in joints)
            if check not in met and not np.all(np.array(span.misread(some, joints)) < (MISREAD, MISREAD_HELD)):
                off = [max(np.array(span.misread(some, [ends])) / (MISREAD, MISREAD_HELD)) for ends in joints]
                span = replace(span, line=line.careful(joints[int(np.argmax(off))]))
                break
            met.add(check)
        else:
            return span if every else replace(span, line=None)
    return span


def _span(family: WallFamily, bases: Sequence[Array], line: WallLine | None, reach_hz: float) -> WallSpan:
    stacked = np.hstack(bases)
    basis = stacked @ _leading(stacked, BASIS_CUT)
    face = family.face
    frame, swept = projected(family.frame[0], basis), replace(face, sweep=face.sweep @ basis)
    return WallSpan(family, basis, frame, swept, line, reach_hz)


def _leading(vectors: Array, cut: float) -> Array:
    """What makes of vectors (n, V) their leading left singular vectors, each unknown against its own largest value. By
    squares, which leave eight digits: a third of the time of singular values.
    """
    scale = np.abs(vectors).max(axis=1, keepdims=True)
    scale[scale == 0] = 1.0
    even = vectors / scale
    squares, turn = np.linalg.eigh(even.T @ even)
    kept = squares > cut**2 * squares[-1]
    return np.asarray(turn[:, kept] / np.sqrt(squares[kept]))
