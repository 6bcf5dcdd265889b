"""Large stroke: plates under tension and pressure, conical washers, caps up to the snap."""

from functools import cache, partial

import numpy as np
from scipy.sparse import csr_matrix

from diaphragm_fem.analysis.large_stroke.equilibrium import (
    Equilibrium,
    Gauge,
    Loading,
    Unsettled,
    factor_gauge,
    settle,
    unstable_directions,
    walk,
)
from diaphragm_fem.analysis.modes.modes import solve_modes
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE, Edge
from diaphragm_fem.model.large_stroke.about_state import structure_about
from diaphragm_fem.model.large_stroke.bent_meridian import motions, rate_slope
from diaphragm_fem.model.large_stroke.bent_shell import BentShell
from diaphragm_fem.model.shell.assembly import element_matrices
from diaphragm_fem.model.shell.numbering import AXISYMMETRIC
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.verify.bench import RADIUS, cap_arc, disc, part, piece, plate_scale
from diaphragm_fem.verify.check import Check, Pair
from diaphragm_fem.verify.references.statics import BUCKLING, pressed_plate, tensioned_plate
from diaphragm_fem.verify.tables import Row, column, rows

E, NU = 70e9, 0.3
check = partial(Check, rung="large stroke")
MOST_STEPS = 500  # up to a limit load
TENSIONS = (-10.0, 0.0, 10.0, 100.0, 1000.0)
SEPARATE = "computed by an exact shell of another code"


@cache
def bent(design: Design, top_hz: float = 20e3, refine: int = 2) -> BentShell:
    return BentShell(build_shell(design, up_to_hz=top_hz, refine=refine))


def at_rest(shell: BentShell) -> Equilibrium:
    return Equilibrium(np.zeros(shell.size), 0.0)


def coil_force(shell: BentShell) -> Loading:
    """An axial force on the coil, downward."""
    return Loading(shell.forces, shell.tangent, lambda _: -shell.drive)


def dead_pressure(shell: BentShell) -> Loading:
    """A vertical load per drawn horizontal area, downward."""
    heavy = shell.model.line.heavy
    values = np.einsum("feq,eq->ef", motions(heavy, AXISYMMETRIC)[2], shell.band * heavy.at.r * heavy.at.t_r)
    load = -shell.numbering.vector(shell.order.dofs, values)
    return Loading(shell.forces, shell.tangent, lambda _: load)


def follower_pressure(shell: BentShell) -> Loading:
    """A pressure on the front face."""
    heavy = shell.model.line.heavy

    def slope(unknowns: Array) -> csr_matrix:
        form = rate_slope(shell.bend(unknowns, heavy))
        blocks = element_matrices(motions(heavy, AXISYMMETRIC), form, shell.band)
        return -shell.numbering.matrices(shell.order.dofs, blocks)[0]

    return Loading(shell.forces, shell.tangent, lambda u: -shell.pressed(u), slope)


@cache
def stretched_disc(tension: float, thickness_ratio: float = 5e-4) -> tuple[BentShell, Array]:
    """A thin clamped disc pulled at its edge to T a^2/D = tension, and its state of balance."""
    h = thickness_ratio * RADIUS
    rigidity = E * h**3 / 12 / (1 - NU**2)
    strain = tension * rigidity / RADIUS**2 * (1 - NU) / (E * h)
    model = bent(disc(CLAMPED, thickness_ratio), 700 * plate_scale(thickness_ratio)).model
    shell = BentShell(model, edge_shift=strain * RADIUS)
    none = Loading(shell.forces, shell.tangent, np.zeros_like)
    return shell, settle(none, at_rest(shell), factor_gauge(shell.size), 0.0).unknowns


def _tension(m: int) -> Check:
    def values() -> Pair:
        found = []
        for tension in TENSIONS:
            shell, state = stretched_disc(tension)
            modes = solve_modes(structure_about(shell, state, m), 700 * plate_scale(5e-4))
            found.append(modes.frequency_hz[:3] / plate_scale(5e-4))
        return np.array([tensioned_plate(tension, m) for tension in TENSIONS]), np.array(found)

    return check(
        id=f"stroke/tension-m{m}",
        problem=f"clamped disc, h/a = 0.0005, edge pulled to T a^2/D of -10 to 1000, modes of m = {m}",
        quantity="omega a^2 sqrt(rho h/D) of the first three modes",
        source="closed form in J and I, problem of Wah, J. Acoust. Soc. Am. 34 (1962) 275 (named from memory)",
        allowed=5e-5,
        reason="h/a = 5e-4: the strain of the tension itself counts 1e-5",
        values=values,
    )


def _buckling() -> Check:
    def values() -> Pair:
        low, high = 1.01 * BUCKLING, 0.99 * BUCKLING
        for _ in range(18):
            middle = (low + high) / 2
            shell, state = stretched_disc(middle)
            none = Loading(shell.forces, shell.tangent, np.zeros_like)
            if unstable_directions(none, Equilibrium(state, 0.0)):
                low = middle
            else:
                high = middle
        return np.array([BUCKLING]), np.array([middle])

    return check(
        id="stroke/buckling",
        problem="clamped disc, h/a = 0.0005, pushed in at its edge until it buckles, m = 0",
        quantity="T a^2/D at which the tangent loses its first stable direction",
        source="Timoshenko and Gere, Theory of Elastic Stability (1961), section 9.6: J1(x) = 0",
        allowed=3e-6,
        reason="shear counts 1e-6 at h/a = 5e-4; the search stops within 1e-7",
        values=values,
    )


@cache
def pressed_loads() -> tuple[float, ...]:
    """q a^4/(E h^4) of the disc of a/h = 100 at the deflections of the table."""
    shell = bent(disc(CLAMPED, 0.01))
    model = shell.model
    centre = np.zeros(shell.size)
    centre[shell.numbering.unknown[2 * model.line.nodes]] = -1.0
    stops = [float(row["w0_over_h"]) * 0.01 * RADIUS for row in rows("pressed_plate")]
    states = walk(dead_pressure(shell), at_rest(shell), Gauge(centre), stops)
    return tuple(state.factor * 100**4 / E for state in states)


def _pressed_plate(karman: bool) -> Check:
    def values() -> Pair:
        table = rows("pressed_plate")
        exact = np.array([pressed_plate(x) for x in column(table, "w0_over_h")]) if karman else column(table, "load")
        return exact, np.array(pressed_loads())

    return check(
        id="stroke/karman" if karman else "stroke/pressed-plate",
        problem="clamped plate, immovable edge, a/h = 100, under pressure up to three thicknesses of deflection",
        quantity="q a^4/(E h^4)",
        source="von Karman (1910), solved by collocation; problem of Way (1934)" if karman else SEPARATE,
        allowed=2e-3 if karman else 5e-6,
        reason="shear, and slopes that von Karman's theory takes as small: 5e-4 to 1.6e-3 at a/h = 100"
        if karman
        else "six decimals of the first row; the mesh leaves 1e-6",
        values=values,
    )


def _washers() -> Check:
    table = rows("conical_washers")
    heights = sorted({float(row["h0_over_h"]) for row in table})
    h = 0.01 * RADIUS

    def values() -> Pair:
        found: list[float] = []
        for height in heights:
            cone = Line((RADIUS / 2, height * h), (RADIUS, 0.0))
            shell = bent(part("washer", [piece(cone, h)], FREE, Edge(axial=np.inf), 0))
            stops = [float(row["s_over_h"]) * h for row in table if float(row["h0_over_h"]) == height]
            states = walk(coil_force(shell), at_rest(shell), Gauge(-shell.drive), stops)
            found += [state.factor * 4 * RADIUS**2 / (E * h**4) for state in states]
        return column(table, "force"), np.array(found)

    return check(
        id="stroke/washers",
        problem="conical washers of h0/h = 0.5 to 2, pressed flat and as far again, past the limit loads",
        quantity="F (2 a)^2/(E h^4)",
        source=SEPARATE + "; problem of Almen and Laszlo (1936)",
        allowed=1.5e-6,
        reason="the table is converged to 1e-6",
        values=values,
        note="Almen and Laszlo's own formula takes the section as rigid and is 5 to 13 % above.",
    )


def shallow_cap(shallowness: float, radius_ratio: float = 1000.0) -> tuple[Design, float]:
    """A clamped cap of (12 (1 - nu^2))^(1/4) a/sqrt(R h) = shallowness, and 2 E (h/R)^2/sqrt(3 (1 - nu^2))."""
    h = RADIUS * (12 * (1 - NU**2)) ** 0.25 / (shallowness * radius_ratio**0.5)
    radius = radius_ratio * h
    wall = piece(cap_arc(radius, 0.0, float(np.arcsin(RADIUS / radius))), h)
    return part("shallow cap", [wall], None, CLAMPED), 2 * E / radius_ratio**2 / float(np.sqrt(3 * (1 - NU**2)))


def first_limit(loading: Loading, start: Equilibrium, step: float) -> float:
    """The largest load factor on the way from `start`, within 1e-4 of the first `step`: beyond it no state follows.
    Raises Unsettled where there is no end of states."""
    gauge, limit = factor_gauge(len(start.unknowns)), start.factor
    for finer in (step, step / 16, step / 256):
        try:
            for state in walk(loading, start, gauge, (start.factor + finer * np.arange(1, MOST_STEPS)).tolist()):
                start = state
        except Unsettled as end:
            limit = end.reached or limit
        else:
            raise Unsettled(f"the load did not turn back within {MOST_STEPS} steps")
    return limit


def _cap(row: Row, kind: str) -> Check:
    def values() -> Pair:
        design, scale = shallow_cap(float(row["lambda"]))
        shell = bent(design)
        loading = follower_pressure(shell) if kind == "follower" else dead_pressure(shell)
        return np.array([float(row[kind])]), np.array([first_limit(loading, at_rest(shell), 0.05 * scale) / scale])

    return check(
        id=f"stroke/cap-{kind}-{row['lambda']}",
        problem=f"clamped spherical cap of lambda = {row['lambda']}, R/h = 1000, under {kind} pressure up to the snap",
        quantity="limit pressure over the classical 2 E (h/R)^2/sqrt(3 (1 - nu^2))",
        source=SEPARATE + "; problem of Budiansky (1959)",
        allowed=5e-4,
        reason="1e-6, 3e-5, 1.3e-4 for lambda = 4, 5, 6: ours is converged to 1e-5, what remains is not explained",
        values=values,
    )


def checks() -> list[Check]:
    return [
        *(_tension(m) for m in range(4)),
        _buckling(),
        _pressed_plate(karman=False),
        _pressed_plate(karman=True),
        _washers(),
        *(_cap(row, kind) for kind in ("dead", "follower") for row in rows("snapping_caps")),
    ]
