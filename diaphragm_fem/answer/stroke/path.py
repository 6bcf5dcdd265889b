"""Force, stiffness, area and equivalent air volume over the stroke of the coil, from a state of rest both ways."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu

from diaphragm_fem.analysis.large_stroke.equilibrium import (
    Equilibrium,
    Gauge,
    Loading,
    Unsettled,
    factor_gauge,
    heading,
    settle,
    unstable_directions,
    walk,
)
from diaphragm_fem.analysis.modes.modes import first_resonance
from diaphragm_fem.analysis.modes.own_modulus import eigenpairs_at_own_modulus
from diaphragm_fem.analysis.static import AIR_STIFFNESS, pressure_behind
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.stroke_plan import StrokePlan
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.large_stroke.bent_shell import BentShell
from diaphragm_fem.model.shell.shell import ShellModel, build_shell
from diaphragm_fem.model.structure import Structure

FUNDAMENTAL_BELOW_HZ = 5e3
MESH_HZ = 20e3  # the mesh is cut as fine as for modes up to this: its error in force is 2e-5
READ_WITHIN = 1e-3  # of the stiffness: the demonstrations' 40 steps agree within 1.2e-4
ASIDE = 2e-6  # m from rest: area changes there as at rest
ADDED_AT_MOST = 400  # states between those asked for
FIRST_SHARE, LEAST_SHARE = 1 / 4, 1 / 256  # of pressure, pull and pre-strain, put on step by step


@dataclass(frozen=True)
class StrokePath:
    """States at rising strokes (X,) in m, where the coil is drawn at 0.

    force (X,) on the coil in N, its slope stiffness (X,) in N/m; area (X, Z) in m2, swept volume of each zone per slow
    motion of the coil; compliance_volume (X,) in m3, the volume of air that gives way to a pressure like the part with
    its coil free; states are the shell's unknowns. rest is the index of the state without a force on the coil, or with
    it held at its offset. rear_stop, front_stop say why the path ends before the stroke asked for, or are empty.
    """

    shell: BentShell
    stroke: Array
    force: Array
    stiffness: Array
    area: Array
    compliance_volume: Array
    states: tuple[Equilibrium, ...]
    rest: int
    rear_stop: str = ""
    front_stop: str = ""

    @cached_property
    def total_area(self) -> Array:
        return np.asarray(self.area.sum(axis=1))

    @cached_property
    def area_slope(self) -> float:
        """Change of the area at rest in m2 per m of stroke, of a state on either side; where one has no balance, of a
        spline through those known. Steps tell it badly: of the stepped V -53, with its rest at an end of 20 steps -35
        in place of -55 % per mm."""
        from scipy.interpolate import CubicSpline

        rest = float(self.stroke[self.rest])
        try:
            behind, before = (_slow(self.shell, self.state_at(rest + way * ASIDE))[0].sum() for way in (-1, 1))
        except Unsettled:
            return float(CubicSpline(self.stroke, self.total_area)(rest, 1))
        return float(before - behind) / (2 * ASIDE)

    def held_by(self, spring: float) -> float:
        """Stiffness in N/m that a closed volume behind (its pressure per swept volume in Pa/m3) adds at rest."""
        area = self.total_area[self.rest]
        return float(area * pressure_behind(area, self.held_give[self.rest], spring))

    @property
    def held_give(self) -> Array:
        """What the part gives way to a pressure with its coil held (X,), in m3/Pa."""
        return np.asarray(self.compliance_volume / AIR_STIFFNESS - self.total_area**2 / self.stiffness)

    @cached_property
    def give_slope(self) -> float:
        """How that changes by pressure at rest, in m3/Pa2: of states to either side, the face ASIDE by pressure."""
        step = abs(ASIDE * float(self.total_area[self.rest] / self.held_give[self.rest]))
        behind, before = (self._held_give_at(self.shell.pressure + x) for x in (-step, step))
        return (before - behind) / (2 * step)

    def _held_give_at(self, pressure: float) -> float:
        """The same at rest under another pressure in Pa."""
        shell = replace(self.shell, pressure=pressure)
        gauge = Gauge(shell.drive)
        state = settle(coil_loading(shell), self.states[self.rest], gauge, float(self.stroke[self.rest]))
        area, stiffness, swept = _slow(shell, state)
        return _give(shell, state, swept) - float(area.sum()) ** 2 / stiffness

    def evenly(self, count: int) -> list[int]:
        """Indices of so many states evenly over the strokes, those nearest, with rest and both ends."""
        wanted = np.linspace(self.stroke[0], self.stroke[-1], count)
        found = {int(np.argmin(np.abs(self.stroke - x))) for x in wanted}
        return sorted(found | {self.rest, 0, len(self.stroke) - 1})

    def state_at(self, stroke: float) -> Equilibrium:
        """The state at a stroke within the path, walked to from the nearest one known."""
        k = int(np.argmin(np.abs(self.stroke - stroke)))
        if abs(self.stroke[k] - stroke) < 1e-12:
            return self.states[k]
        return next(iter(walk(coil_loading(self.shell), self.states[k], Gauge(self.shell.drive), [stroke])))

    def crossings(self, values: Array, level: float, *, kink: bool = False) -> tuple[float | None, float | None]:
        """Strokes nearest to rest, toward the rear and the front, at which values (X,) over the path cross a level;
        kink: whether they are a size, such as of a strain, which has a kink at rest, is read on each side by itself and
        may have reached the level there."""
        return self._first_crossing(values, level, -1, kink), self._first_crossing(values, level, 1, kink)

    def changed(self, values: Array, share: float) -> tuple[float | None, float | None]:
        """Strokes nearest to rest at which values (X,) are a share above or below what they are at rest.

        Each way on its own: the size of a change has a kink at rest, which a smooth line through it rounds off.
        """
        relative = values / values[self.rest] - 1
        above, below = (self.crossings(relative, level) for level in (share, -share))
        rest = float(self.stroke[self.rest])
        rear, front = (
            min((x for x in side if x is not None), key=lambda x: abs(x - rest), default=None)
            for side in zip(above, below, strict=True)
        )
        return rear, front

    def _first_crossing(self, values: Array, level: float, way: int, kink: bool) -> float | None:
        from scipy.interpolate import CubicSpline
        from scipy.optimize import brentq

        outward = np.arange(len(self.stroke))[self.rest :: way]
        stroke, gap = self.stroke[outward], values[outward] - level
        if kink and gap[0] >= 0:
            return float(stroke[0])
        met = np.flatnonzero((gap[1:] == 0) | (gap[:-1] * gap[1:] < 0))
        if not len(met):
            return None
        begin, end = ends = stroke[met[0] : met[0] + 2]
        if gap[met[0] + 1] == 0:
            return float(end)
        read = np.sort(outward) if kink else slice(None)
        between = CubicSpline(self.stroke[read], values[read] - level)
        if between(begin) * between(end) >= 0:  # a state that meets the level but for a last digit
            return float(ends[np.argmin(np.abs(gap[met[0] : met[0] + 2]))])
        return float(brentq(between, min(ends), max(ends)))


def stroke_shell(design: Design, up_to_hz: float = MESH_HZ, *, corrected: bool = True) -> ShellModel:
    """The shell that a stroke moves, its bends of one element in two.

    Fibres at the ends of an element without a neighbour in its piece are read straight on from inside: those of the
    stepped V's default corners were 3.2 % off at 0.3 mm, 0.015 % in two. Raises what `build_shell` raises.
    """
    mesh = build_shell(design, up_to_hz=up_to_hz, corrected=corrected).mesh
    alone = [
        len(ends) == 2 and not isinstance(piece.curve, Line)
        for piece, ends in zip(mesh.pieces, mesh.stations, strict=True)
    ]
    cut = [np.linspace(ends[0], ends[-1], 3) if one else ends for one, ends in zip(alone, mesh.stations, strict=True)]
    return build_shell(design, mesh.recut(cut), corrected=corrected)


def coil_loading(shell: BentShell) -> Loading:
    """An axial force on the coil."""
    return Loading(shell.forces, shell.tangent, lambda _: shell.drive)


def stroke_path(model: ShellModel, plan: StrokePlan) -> StrokePath:
    """Walk the coil from rest to the foremost and the rearmost stroke of the plan.

    Pressure, pull on the edge and pre-strain act first; then the coil goes to its offset, where it rests. Where no
    balance is found any more the path ends with the last good state and says so. Where steps are too long to read
    between them, states are added. Raises AnalysisError for a part without a drive, or where no state is found but that
    of rest, or not even that, or where the plan's motor tells no force factor at rest.
    """
    shell, rest = rest_state(model, plan)
    loading, gauge = coil_loading(shell), Gauge(shell.drive)
    begin = gauge.of(rest) + 0.0  # no minus zero
    if plan.motor and not plan.motor.stroke[0] <= begin <= plan.motor.stroke[-1]:
        raise AnalysisError(
            f"under its loads the coil rests at {1e3 * begin:.3g} mm, where stroke.motor tells no force factor: "
            "measure it there, too"
        )
    known, stops = {begin: rest}, ["", ""]
    dust = 1e-6 * (plan.foremost - plan.rearmost)
    for side, way in enumerate((-1, 1)):
        goals = [float(x) for x in plan.strokes[::way] if (x - begin) * way > dust]
        try:
            for goal, state in zip(goals, walk(loading, rest, gauge, goals), strict=True):
                known[goal] = state
        except Unsettled as trouble:
            last = max(known, key=lambda x: x * way)
            if trouble.reached is not None and trouble.state and (trouble.reached - last) * way > dust:
                known[trouble.reached] = trouble.state  # steps on the way to a goal got there
            stops[side] = _why(loading, gauge, known, way, goals[-1])
    if len(known) == 1:
        raise AnalysisError(
            "the coil finds no balance a step away from rest: take more steps or a shorter stroke, stroke.rearmost to "
            f"stroke.foremost; {', and '.join(filter(None, stops))}"
        )
    return _with_states_between(_measured(shell, known, begin, stops), dust)


def _with_states_between(path: StrokePath, dust: float) -> StrokePath:
    """With states halfway between those where the stiffness, read by a smooth line, does not sum up to the change of
    force, until it does or they are `dust` (m) apart; ADDED_AT_MOST in all.

    A dome on a cone of film, 5 mm wide and 0.8 mm high, snaps at 0.045 mm: by steps of 25, 100 and 200 um alone at
    0.032, 0.095 and 0.19 mm.
    """
    known, begin = dict(zip(path.stroke.tolist(), path.states, strict=True)), float(path.stroke[path.rest])
    most = len(known) + ADDED_AT_MOST
    while len(known) < most and (wanted := _unread(path, dust)):
        try:
            known |= {stroke: path.state_at(stroke) for stroke in wanted[: most - len(known)]}
        except Unsettled:
            break
        path = _measured(path.shell, known, begin, (path.rear_stop, path.front_stop))
    return path


def _unread(path: StrokePath, dust: float) -> list[float]:
    """The middles of steps over which the stiffness, read by a spline, and the change of force do not agree."""
    from scipy.interpolate import CubicSpline

    step, size = np.diff(path.stroke), np.abs(path.stiffness)
    read = np.diff(CubicSpline(path.stroke, path.stiffness).antiderivative()(path.stroke))
    scale = np.maximum(np.maximum(size[1:], size[:-1]), size[path.rest])
    off = (np.abs(read - np.diff(path.force)) > READ_WITHIN * scale * step) & (step > dust)
    return np.asarray((path.stroke[1:] + path.stroke[:-1])[off] / 2).tolist()


def rest_state(model: ShellModel, plan: StrokePlan) -> tuple[BentShell, Equilibrium]:
    """The loaded shell and its state before any stroke: coil at its offset, or free of force where that is 0.

    Raises AnalysisError without a drive, or where the loads find no balance.
    """
    shell = BentShell(model)
    if not np.any(shell.drive):
        raise AnalysisError("a stroke needs a coil: give the design a coil or a ring where it is driven")
    drawn = shell.drawn(0).structure
    if drawn.rigid_modes:
        raise AnalysisError("a stroke needs a part that is held: nothing resists the axial motion of this one")
    shell = replace(shell, at_hz=slow_frequency(drawn)) if drawn.modulus_varies else shell
    state = Equilibrium(np.zeros(shell.size), 0.0)
    try:
        shift = _pulled_edge(shell, plan.edge_tension) if plan.edge_tension else 0.0
        if shift or plan.pressure or plan.pre_strain:
            shell, state = _loaded(shell, plan, shift)
        if plan.coil_offset:
            state = list(walk(coil_loading(shell), state, Gauge(shell.drive), [plan.coil_offset]))[-1]
    except Unsettled as trouble:
        raise AnalysisError(
            f"the part finds no state of rest under the loads of [stroke] ({trouble}); lower pressure, edge_tension, "
            "pre_strain or coil_offset"
        ) from trouble
    return shell, state


def slow_frequency(drawn: Structure) -> float:
    """The fundamental in Hz of a part whose moduli depend on frequency: at its storage moduli the coil is moved."""
    pairs = eigenpairs_at_own_modulus(drawn, FUNDAMENTAL_BELOW_HZ)
    found = first_resonance(pairs.squares, (drawn.pickup @ pairs.vectors) ** 2, drawn.rigid_modes)
    return found or FUNDAMENTAL_BELOW_HZ


def _loaded(bare: BentShell, plan: StrokePlan, shift: float) -> tuple[BentShell, Equilibrium]:
    """Pressure, pre-strain and the shift of the edge put on together, in steps as short as they must be."""
    done, step = 0.0, FIRST_SHARE
    state = Equilibrium(np.zeros(bare.size), 0.0)
    while True:
        share = min(done + step, 1.0)
        strain = {name: share * value for name, value in plan.pre_strain}
        shell = replace(bare, pressure=share * plan.pressure, pre_strain=strain, edge_shift=share * shift)
        try:
            found = settle(coil_loading(shell), state, factor_gauge(shell.size), 0.0)
        except Unsettled:
            step /= 2
            if step < LEAST_SHARE:
                raise
            continue
        done, state = share, found
        if done == 1.0:
            return shell, state


def _pulled_edge(shell: BentShell, tension: float) -> float:
    """How far in m the outer edge moves along the radius under a pull in N/m, before it is clamped."""
    model = shell.model
    edge = model.design.outer_edge
    if edge is None or edge.radial != np.inf:
        raise AnalysisError(
            "stroke.edge_tension: only an outer edge that is held along the radius can be pulled before; hold it, or "
            "leave the key out"
        )
    loose = replace(model.design, outer_edge=replace(edge, radial=0.0))
    free = BentShell(ShellModel(replace(model.mesh, design=loose), model.corrected), at_hz=shell.at_hz)
    dof = model.mesh.vertex((len(model.design.meridian) - 1, 1))
    pull = np.zeros(free.size)
    curve = model.design.meridian[-1].curve
    pull[free.numbering.unknown[dof]] = 2 * np.pi * float(curve.point(curve.length)[0])
    loading = Loading(free.forces, free.tangent, lambda _: pull)
    start, goals = Equilibrium(np.zeros(free.size), 0.0), tension * np.arange(1, 5) / 4
    state = list(walk(loading, start, factor_gauge(free.size), goals.tolist()))[-1]
    return float(free.displacements(state.unknowns)[dof])


def _measured(shell: BentShell, known: dict[float, Equilibrium], begin: float, stops: Iterable[str]) -> StrokePath:
    strokes = sorted(known)
    states = tuple(known[x] for x in strokes)
    stiffness, volume = np.empty((2, len(states)))
    area = np.empty((len(states), len(shell.model.design.zones)))
    for k, state in enumerate(states):
        area[k], stiffness[k], swept = _slow(shell, state)
        volume[k] = AIR_STIFFNESS * _give(shell, state, swept)
    force = np.array([state.factor for state in states])
    rear, front = stops
    return StrokePath(
        shell, np.array(strokes), force, stiffness, area, volume, states, strokes.index(begin), rear, front
    )


def _slow(shell: BentShell, state: Equilibrium) -> tuple[Array, float, Array]:
    """Area (Z,) and stiffness of a state as the coil moves slowly, and what its unknowns sweep (Z, n)."""
    rate, stiffness = heading(coil_loading(shell), state, Gauge(shell.drive))
    swept, _ = shell.swept(state.unknowns)
    return swept @ rate, stiffness, swept


def _give(shell: BentShell, state: Equilibrium, swept: Array) -> float:
    """What a state gives way to a pressure with its coil free, in m3/Pa; swept as `_slow` has it."""
    whole = swept.sum(axis=0)
    return float(whole @ splu(csc_matrix(shell.tangent(state.unknowns))).solve(whole))


def _why(loading: Loading, gauge: Gauge, known: dict[float, Equilibrium], way: int, goal: float) -> str:
    """Why a path ends: in words, with the last good stroke."""
    last = max(known, key=lambda x: x * way)
    words = f"no state of balance was found beyond {1e3 * last:.4g} mm on the way to {1e3 * goal:.4g} mm"
    if unstable_directions(loading, known[last], held=gauge.row):
        return f"{words}: the part snaps even while the coil is held"
    return f"{words}, however small the step"
