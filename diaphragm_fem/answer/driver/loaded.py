"""A solved diaphragm with its surroundings on: the loads joined to its equations, on its basis and a few vectors more.

The basis in vacuum does not hold how the diaphragm yields to a pressure that varies along its face; its static answers
to the first patterns of the gap do. With them the pressure at the exit is within 0.002 dB of direct solves on the
stepped V (0.29 dB without), for 2 ms instead of 40 for answers with every load on; and another layout of slots needs
no new solution of the diaphragm.
"""

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from functools import cached_property, lru_cache, partial
from typing import Any

import numpy as np

from diaphragm_fem.analysis.curve.curve import Curve
from diaphragm_fem.analysis.curve.reduced import Reduced
from diaphragm_fem.analysis.factors import Factors, factor_symmetric
from diaphragm_fem.analysis.figures.break_up_mode import StrainsUpTo
from diaphragm_fem.analysis.figures.definitions import Wanted
from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.analysis.figures.read_figures import figures_of
from diaphragm_fem.analysis.figures.zones import Leak
from diaphragm_fem.analysis.response import respond
from diaphragm_fem.analysis.solution import FROM_HZ, Solution, solve
from diaphragm_fem.analysis.span import extended
from diaphragm_fem.analysis.static import AIR_STIFFNESS, Static, solve_static
from diaphragm_fem.answer.quick import Quick, quick_from, strains_of
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.meridian.zone import Role
from diaphragm_fem.errors import ModelError
from diaphragm_fem.load.exit_end import check_table
from diaphragm_fem.load.short_waves import short_wave_mass
from diaphragm_fem.load.surroundings import Surroundings, surround, with_even_pressure
from diaphragm_fem.model.projected import projected
from diaphragm_fem.model.shell.front_face import Face, shell_face
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.structure import MASS, Term

PATTERNS = 12  # of the gap, whose static answers join the basis
PATTERN_HZ = 5e3  # at whose moduli
LOWER = 0.5  # of a frequency at which what lies behind is no spring: toward it the next step goes
CLOSES_AMONG = 400  # frequencies of the range, one of which is told as that where a leak closes
SETTLED, STEPS = 1e-3, 20  # of the loaded fundamental, at whose moduli all is at rest: nearer in so many steps


@dataclass(frozen=True, eq=False)
class Vacuum:
    """A diaphragm solved without its surroundings, its front face, and what all layouts of these share; corrected says
    whether the shell knew of ends, joints and the thickness of walls."""

    solution: Solution
    face: Face
    corrected: bool = False

    @cached_property
    def pattern_factors(self) -> Factors:
        """The factored stiffness that answers to patterns of pressure."""
        return factor_symmetric(self.solution.structure.stiffness_at(PATTERN_HZ))

    @cached_property
    def static_at(self) -> Callable[[float], Static]:
        """What it is at rest at the moduli of a frequency in Hz."""
        return lru_cache(maxsize=8)(partial(solve_static, self.solution.structure))

    def quick(self, wanted: Wanted) -> Quick:
        """The figures without surroundings, kept for those who want the same."""
        if not self._quick or self._quick[0][0] != wanted:
            self._quick[:] = [(wanted, quick_from(self.solution, wanted))]
        return self._quick[0][1]

    @cached_property
    def _quick(self) -> list[tuple[Wanted, Quick]]:
        return []

    @cached_property
    def strains(self) -> StrainsUpTo:
        return lru_cache(strains_of(self.solution))

    def __getstate__(self) -> dict[str, Any]:
        """What a pickle takes along: the fields, for what is kept beside them is found again."""
        return {one.name: getattr(self, one.name) for one in fields(self)}


@dataclass(frozen=True, eq=False)
class Loaded:
    """A diaphragm with its surroundings: how it is in vacuum, what acts on it, the loaded equations."""

    design: Design
    vacuum: Vacuum
    around: Surroundings
    reduced: Reduced

    @property
    def solution(self) -> Solution:
        """The solution in vacuum."""
        return self.vacuum.solution

    @property
    def face(self) -> Face:
        return self.vacuum.face

    @cached_property
    def static(self) -> Static:
        """At rest, at the moduli of the loaded fundamental and with the spring of the rear chamber there: its leak shut
        where that resonates below the part, else open. What is open toward the exit holds nothing at rest.
        """
        if not self.around.loads:
            return self.solution.static
        hz, varies = self._fundamental_hz, self.solution.structure.modulus_varies
        behind = self.around.rear_port is not None and self.shuts(hz)
        held = self._behind(self.around.shut, hz) if behind else 0.0
        return (self.vacuum.static_at(hz) if varies else self.solution.static).closed_by(held)

    @cached_property
    def _fundamental_hz(self) -> float:
        """Where the force F turns from spring to mass, in Hz.

        What moves has the mass M of its kinetic energy, and F + omega^2 M is its spring; on that it swings at a
        frequency which hardly depends on the one at which it was asked, so a few steps lead there from the mass in
        vacuum. Where they do not it is that one's, on a chamber at rest. With a leak or in a tube the spring depends on
        frequency, too: steps are half as long, and half of that wherever they turn back by more than a third. Beyond a
        quarter of a wave a tube is no spring, nor is a chamber below the resonance of its leak: the search goes down
        from there.
        """
        share, step = 0.5 if self._varies_behind else 1.0, 0.0
        guess = self._on_its_spring_hz
        hz = min(guess, LOWER * self._half_wave_hz)
        for _ in range(STEPS if guess else 0):
            spring, mass = self._swinging(hz)
            before, heavy = step, mass * (2 * np.pi * hz) ** 2
            if min(spring, heavy) > 0:
                step = float(np.log(spring / heavy)) / 2
            elif self._varies_behind:
                step = float(np.log(LOWER))
            else:
                break
            share /= 2 if before * step < -(before**2) / 3 else 1
            hz *= float(np.exp(share * step))
            if abs(step) < SETTLED:
                return hz
        return guess or self.solution.static.modulus_hz

    def _swinging(self, hz: float) -> tuple[float, float]:
        """Spring in N/m and mass in kg at the coil by the energies of the motion u at a frequency in Hz, the coil's 1:
        u^H M u with what fronts and open sides push in phase, Z, as -Re u^H Z u/omega^2, where that is a mass; Re F +
        omega^2 M. A front that pulls back, as a gap before narrow slots, is a spring.

        The force alone does not tell them apart: resistance, of an exit as of a leak, holds soft zones, and what it
        adds to the spring would be taken off the mass.
        """
        small, omega = self.reduced.small, 2 * np.pi * hz
        motion = respond(small, hz)[:, 0]
        coil = complex(small.pickup @ motion)
        motion = motion / coil
        mass = float((motion.conj() @ small.mass @ motion).real)
        for load in small.loads[len(self.around.rear_loads) :]:
            moved = load.port.pattern.T @ motion
            held = float((moved.conj() @ load.stiffness(np.array([hz]))[0] @ moved).real)
            mass -= min(held, 0.0) / omega**2
        return (1 / coil).real + omega**2 * mass, mass

    def shuts(self, hz: float) -> bool:
        """Whether a leak, at a frequency in Hz, leaves the low area nearer to that of a closed chamber than to that of
        an open one; a chamber without a leak is shut."""
        at, yields = np.array([hz]), float(self.solution.static.yields.sum())
        leaking, shut = (abs(1 + x.rear_stiffness(at)[0] * yields) for x in (self.around, self.around.shut))
        return not self._leaks or bool(leaking**2 > shut)

    def _behind(self, around: Surroundings, hz: float) -> float:
        """The spring that holds the coil as the rear chamber does in phase with it at a frequency in Hz, Pa/m3."""
        spring, yields = around.rear_stiffness(np.array([hz]))[0], self.solution.static.yields.sum()
        taken = float((spring / (1 + spring * yields)).real)
        return taken / (1 - taken * float(yields))

    @property
    def _half_wave_hz(self) -> float:
        """Where the rear chamber is half a wave deep, in Hz; endless for a spring."""
        rear = self.around.driver.rear_chamber
        return np.inf if rear is None or rear.depth is None else self.around.still.sound_speed / (2 * rear.depth)

    @property
    def _leaks(self) -> bool:
        rear = self.around.driver.rear_chamber
        return rear is not None and rear.leak_diameter is not None

    @property
    def _varies_behind(self) -> bool:
        """Whether what the rear chamber holds depends on frequency."""
        return self._leaks or bool(np.isfinite(self._half_wave_hz))

    @property
    def _on_its_spring_hz(self) -> float:
        """Where the mass in vacuum swings on the part's own spring and the rear chamber's, in Hz; a leak counts as shut
        above its resonance with the chamber's air, as open below."""
        vacuum = self.solution.static

        def swings(spring: float) -> float:
            return float(np.sqrt(vacuum.closed_by(spring).stiffness / vacuum.moving_mass)) / (2 * np.pi)

        if self.around.rear_port is None:
            return swings(0.0)
        shut = swings(self.around.rear_spring)
        return shut if not self._leaks or self._behind(self.around, shut) > 0 else swings(0.0)

    @property
    def held_volume(self) -> float:
        """Volume of air in m3 as soft as the diaphragm with its coil held."""
        return self.static.held_volume * self._to_own_air

    @property
    def free_volume(self) -> float | None:
        """Volume of air in m3 as soft as the diaphragm with its coil free; None where nothing holds it."""
        return None if self.static.free_volume is None else self.static.free_volume * self._to_own_air

    @property
    def _to_own_air(self) -> float:
        return self.around.still.bulk_modulus / AIR_STIFFNESS

    def figures(self, curve: Curve) -> Figures:
        """The figures of a loaded curve; the fundamental is where the force turns from spring to mass.

        With a leak it does so twice, once more where the air in the leak swings on the chamber's: of a V before 330 cm3
        with a hole of 3 mm at 46 Hz beside 181 Hz. A long tube has more. Stiffness and mass are those that swing there.
        """
        fundamental, turns = None, curve.turns_hz
        static = replace(self.static, held_volume=self.held_volume, free_volume=self.free_volume)
        if len(turns):
            away = np.abs(np.log(turns / self._fundamental_hz)) if self._varies_behind else np.zeros(1)
            fundamental = float(turns[np.argmin(away)])
            _, mass = self._swinging(fundamental)
            static = replace(static, moving_mass=mass, stiffness=mass * (2 * np.pi * fundamental) ** 2)
        leak = self._leak
        return figures_of(static, curve, self.reduced.curve, self.vacuum.strains, fundamental, leak=leak)

    @property
    def _leak(self) -> Leak | None:
        """The leak as far as it blurs where steps let go; None without either."""
        if not self._leaks or all(zone.role is not Role.STEP for zone in self.solution.structure.zones):
            return None
        f = np.geomspace(self.solution.from_hz, self.solution.up_to_hz, CLOSES_AMONG)
        springs = f[self.around.rear_stiffness(f).real > 0]
        closes_hz = float(springs[0] if len(springs) else f[-1])
        opened, shut = (
            loaded(self.design, self.vacuum, around)
            for around in (replace(self.around, rear_port=None), self.around.shut)
        )
        return Leak(closes_hz, opened.reduced.curve, lambda hz: shut.reduced.curve(hz))  # shut: solved where asked


def load_design_on(design: Design, *, up_to_hz: float = 20e3, refine: int = 1, corrected: bool = True) -> Loaded:
    """A driven design with everything that its file says surrounds it, from the shell model, m = 0.

    The diaphragm itself is solved once for designs that differ in their surroundings alone. Raises AnalysisError
    without a drive, MeshError for a gap or slots that cannot be, ModelError for air or ends outside their formulas
    or tables.
    """
    exit = None if design.driver is None else design.driver.exit
    if exit is not None and exit.end == "table":
        try:
            check_table(exit.frequency, exit.impedance, FROM_HZ, up_to_hz)
        except ModelError as error:
            raise ModelError(f"exit.table: {error}") from None
    vacuum = in_vacuum(replace(design, driver=None), up_to_hz, refine, corrected)
    return loaded(design, vacuum, surround(design, vacuum.face, up_to_hz=up_to_hz))


def loaded(design: Design, vacuum: Vacuum, around: Surroundings) -> Loaded:
    """A diaphragm in vacuum with surroundings on its ports."""
    solution = vacuum.solution
    structure = solution.structure.loaded(*around.loads)
    ports = patterns_of(around)
    basis = solution.reduced.basis
    if ports and basis.shape[1] < basis.shape[0]:
        answers = vacuum.pattern_factors.solve(np.hstack(ports))
        basis = extended(basis, answers, solution.structure.mass)
    basis, heavier = _with_air_at_the_face(vacuum.face, around, basis)
    small = projected(structure, basis)
    small = replace(small, terms=(*small.terms, *heavier))
    reduced = Reduced(structure, basis, small, solution.up_to_hz, solution.static.low)
    return Loaded(design, vacuum, around, reduced)


def _with_air_at_the_face(face: Face, around: Surroundings, basis: Array) -> tuple[Array, tuple[Term, ...]]:
    """A basis orthonormal in the mass (n, N) made so in the mass with the air that moves with the face: what short
    waves carry in the open, across a thin gap and in a rear chamber; and that air."""
    masses = [short_wave_mass(side, face, basis) for side in around.open_sides]
    if around.behind is not None:
        swept = np.asarray(face.sweep @ basis)
        masses.append(swept.T @ around.behind @ swept)
    if around.face_air is not None:
        masses.append(np.asarray(basis.T @ (around.face_air.mass.matrix @ basis)))
    if not masses:
        return basis, ()
    mass = sum(masses)
    turn = np.linalg.inv(np.linalg.cholesky(np.eye(basis.shape[1]) + mass)).T
    return basis @ turn, (Term(turn.T @ mass @ turn, derivatives=MASS, made_of="air"),)


def patterns_of(around: Surroundings) -> list[Array]:
    """Patterns of force (n, P) whose static answers a basis needs before it can carry these surroundings."""
    front = [] if around.front_port is None else [around.front_port.pattern[:, :PATTERNS]]
    front += [side.port.pattern[:, :PATTERNS] for side in around.open_sides]
    return front if around.rear_port is None else [around.rear_port.pattern, *front]


def ended(found: Loaded, impedance: float) -> Loaded:
    """The same with a resistance in Pa s/m3 for the end of its exit."""

    def end(omega: Array) -> Complex:
        return np.full(len(omega), impedance, complex)

    return loaded(found.design, found.vacuum, replace(found.around, end=end))


def evenly_pressed(found: Loaded) -> Loaded:
    """The same with the pressure before the face everywhere the same."""
    return loaded(found.design, found.vacuum, with_even_pressure(found.around, found.face))


@lru_cache(maxsize=4)
def in_vacuum(design: Design, up_to_hz: float, refine: int, corrected: bool) -> Vacuum:
    """A diaphragm solved alone; kept, because the layouts of a study share it."""
    shell = build_shell(design, up_to_hz=up_to_hz, refine=refine, corrected=corrected)
    solution = solve(shell.structure(0), up_to_hz)
    return Vacuum(solution, shell_face(shell.line, shell.line.order_terms(0), corrected), corrected)
