"""Air, slits, lines, motor, slot rule and shared exit, each alone, against values computed a second way."""

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
from scipy.special import j0, jn_zeros

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.driver.driver import Inductance, Motor
from diaphragm_fem.load import air as moist
from diaphragm_fem.load import junction, line, motor, two_sections
from diaphragm_fem.load.air import Air
from diaphragm_fem.load.exit_end import matched
from diaphragm_fem.load.slit import slit, unwalled
from diaphragm_fem.load.slot_rule import slots_by_modes
from diaphragm_fem.verify.check import Check, Pair
from diaphragm_fem.verify.references.bend_flow import bend_resistance
from diaphragm_fem.verify.tables import Table, cases, column, phasor, rows

AIR = Air(1.2041, 343.2, 1.825e-5, 1.4, 0.71)  # of all the tables
RHO_C = AIR.density * AIR.sound_speed
check = partial(Check, rung="air, motor and lines", model="load", scale="largest")
DIGITS = "ten digits in the table"


def omega_of(table: Table) -> Array:
    return np.asarray(2 * np.pi * column(table, "f_Hz"))


def by_largest(reference: list[Complex], ours: list[Complex]) -> Pair:
    """Columns side by side, each over the largest of its reference."""
    scale = [np.abs(x).max() for x in reference]
    over = [np.concatenate([v / s for v, s in zip(x, scale, strict=True)]) for x in (reference, ours)]
    return over[0], over[1]


PROPERTIES = {
    "rho": "CIPM-2007, Picard et al., Metrologia 45 (2008) 149",
    "c": "Cramer, J. Acoust. Soc. Am. 93 (1993) 2510",
    "mu": "Rasmussen, Report PL-11b (1997)",
    "cp": "Rasmussen, Report PL-11b (1997)",
    "k": "Rasmussen, Report PL-11b (1997)",
    "gamma_eff": "Picard et al. (2008) and Cramer (1993)",
    "Pr": "Rasmussen, Report PL-11b (1997)",
}


def _property(name: str, source: str) -> Check:
    """The table was made with 2.00e-6 T^2 in the conductivity, which Rasmussen prints as 2.06e-6 (IEC 61094-2 too, from
    memory): k is put right by the difference, and Pr with it."""

    def values() -> Pair:
        table = rows("air_properties")
        printed = column(table, "k")
        right = printed + moist.CALORIE * 1e-8 * 0.06e-6 * (column(table, "t_C") + moist.ZERO_CELSIUS) ** 2
        exact = {"k": right, "Pr": column(table, "Pr") * printed / right}.get(name, column(table, name))
        found = []
        for t, h, p in zip(*(column(table, key) for key in ("t_C", "rh_percent", "p_Pa")), strict=True):
            T = t + moist.ZERO_CELSIUS
            x = moist.vapour_fraction(T, h / 100, p)
            heat, k, mu = moist.heat_capacity(T, x), moist.conductivity(T, x), moist.viscosity(T, x)
            rho, c = moist.density(T, x, p), moist.sound_speed(t, x, p)
            ours = {"rho": rho, "c": c, "mu": mu, "cp": heat, "k": k}
            found.append((ours | {"gamma_eff": rho * c**2 / p, "Pr": mu * heat / k})[name])
        return exact, np.array(found)

    return check(
        f"air/{name}",
        "air at five temperatures, three humidities, two pressures",
        name,
        source,
        1e-7,
        "eight digits in the table",
        values,
        scale="each",
    )


def _slit() -> Check:
    table = rows("air_slit")

    def values() -> Pair:
        found = []
        for h, w in zip(column(table, "h_mm") * 1e-3, omega_of(table), strict=True):
            air = slit(AIR, h, np.array([w]))
            found.append((air.density, air.compliance * AIR.bulk_modulus, air.wave_number, air.impedance(RHO_C)))
        return np.array([phasor(table, name) for name in ("rho_e", "C_e_rho_c2", "q", "Zc")]), np.array(found)[..., 0].T

    return check(
        "air/slit",
        "slits of 0.1 to 1 mm, 100 Hz to 20 kHz",
        "effective density, compliance, wave number, impedance",
        "low-reduced-frequency model, Stinson, J. Acoust. Soc. Am. 89 (1991) 550; within 3e-5 of the full equations",
        2e-9,
        DIGITS,
        values,
        scale="each",
    )


def two_port(case: str, w: Array) -> tuple[Complex, float, float]:
    """Two-port of a case of the table, with the areas at its ends in m2."""
    if case == "annular_channel_lossy":
        area = 2 * np.pi * 15e-3 * 0.6e-3
        return line.cylinder(slit(AIR, 0.6e-3, w), area, 12e-3), area, area
    x = np.linspace(0, 1, 401)
    if case == "conical_horn":
        return line.cone(unwalled(AIR, w), 1.2e-4, 30e-4, 0.15), 1.2e-4, 30e-4
    if case == "exponential_horn":
        return line.area_law(1.2e-4 * 25**x, 0.15 * x, lambda _: unwalled(AIR, w)), 1.2e-4, 30e-4
    areas = 2 * np.pi * (12e-3 - 3e-3 * x) * (0.4e-3 + 0.5e-3 * x)
    whole = line.area_law(areas, 15e-3 * x, lambda y: slit(AIR, 0.4e-3 + 0.5e-3 * y, w))
    return whole, float(areas[0]), float(areas[-1])


def _line(case: str) -> Check:
    table = cases("air_lines", "case")[(case,)]
    reference = [phasor(table, name) for name in ("T11", "T12", "T21", "T22", "Zin", "p2_p1")]

    def values() -> Pair:
        w = omega_of(table)
        t, entry, exit = two_port(case, w)
        end, unit = matched(AIR, exit, w), RHO_C / entry
        found = [t[:, 0, 0], t[:, 0, 1] / unit, t[:, 1, 0] * unit, t[:, 1, 1], line.seen(t, end) / unit]
        return by_largest(reference, [*found, line.passed_on(t, end)])

    within = {"widening_channel_lossy": 1e-6, "exponential_horn": 6e-6}.get(case)
    return check(
        f"air/{case.replace('_', '-')}",
        f"{case.replace('_', ' ')}, 100 Hz to 20 kHz",
        "four entries of the two-port, entry impedance and transfer with a matched end",
        "Webster's equation, integrated by a Runge-Kutta method of eighth order",
        within or 2e-9,
        "400 conical pieces, second order: 5e-7 of the channel, 4e-6 of the horn" if within else DIGITS,
        values,
    )


def beside(one: Any, resistance: float) -> Any:
    return 1 / (1 / one + 1 / resistance)


LAW = Inductance("power law", coefficient=0.02, exponent=0.65)
SEMI = Inductance("semi-inductance", 0.04e-3, coefficient=0.022, resistance=18.0)
INDUCTANCES: dict[str, tuple[Inductance, Callable[[Any], Any]]] = {  # and the impedance at i omega, in ohm
    "none": (Inductance(), np.zeros_like),
    "ideal": (Inductance("ideal", 0.12e-3), lambda s: s * 0.12e-3),
    "two_stage": (Inductance("two-stage", 5e-5, 1.1e-4, 3.5), lambda s: s * 5e-5 + beside(s * 1.1e-4, 3.5)),
    "power_law": (LAW, lambda s: 0.02 * np.abs(s) ** 0.65 * np.exp(0.325j * np.pi)),
    "semi": (SEMI, lambda s: s * 0.04e-3 + beside(0.022 * np.sqrt(s), 18.0)),
}


def _motor(kind: str) -> Check:
    w = 2 * np.pi * np.array((20, 100, 300, 450, 484.3, 520, 700, 1e3, 2e3, 5e3, 1e4, 2e4))
    inductance, impedance = INDUCTANCES[kind]
    z_m, force_factor, resistance, source = 0.35 + 1j * w * 2.4e-3 + 1 / (1j * w * 45e-6), 8.0, 6.2, 0.1

    def values() -> Pair:
        circuit, coupled = source + resistance + impedance(1j * w), np.full_like(z_m, force_factor)
        loop = np.array(((circuit, coupled), (-coupled, z_m))).transpose(2, 0, 1)  # a gyrator couples both
        current, velocity = np.linalg.solve(loop, np.array((1.0, 0.0))[:, None])[..., 0].T
        found = motor.drive(Motor(force_factor, resistance, inductance, 1.0, source), z_m, w)
        exact = [1 / current - source, current, velocity, velocity / (1j * w)]
        return by_largest(exact, [found.terminal_impedance, found.current, found.velocity, found.excursion])

    return check(
        f"motor/{kind.replace('_', '-')}",
        f"lumped driver behind 0.1 ohm, inductance: {kind.replace('_', ' ')}",
        "terminal impedance, current, velocity, excursion",
        "mesh equations of the whole circuit with a gyrator, solved here; laws as in Leach (2002), Vanderkooy (1989), "
        "Thorborg and Futtrup (2011) (the last two from memory), typed a second time",
        1e-10,
        "rounding",
        values,
    )


def _shared_exit() -> Check:
    table = rows("air_two_sections")
    reference = [phasor(table, name) for name in ("p_hi", "p_lo", "sum", "r_up", "Zside")]

    def values() -> Pair:
        w, area = omega_of(table), 6.16e-4
        one, unit, open_ = np.ones(w.shape, complex), RHO_C / area, unwalled(AIR, w)
        upper = two_sections.Source(one, np.asarray(1.4 * unit + 12j * w)).through(line.cylinder(open_, area, 20e-3))
        lower = two_sections.Source(one, 2.1e5 + 95j * w + 1 / (2.2e-11j * w))
        lower = lower.through(line.shunt(np.asarray(4e-6 / AIR.bulk_modulus * 1j * w)))
        lower = lower.through(line.cylinder(slit(AIR, 0.8e-3, w), 4 * 0.35e-4, 6e-3))
        onward = line.cylinder(open_, area, 35e-3)
        found = two_sections.share_exit(upper, lower, onward, matched(AIR, area, w), unit)
        low, high = two_sections.crossover(w / (2 * np.pi), 1500.0)
        total = 2.5 * found.upper * high + found.lower * low
        return by_largest(reference, [found.upper, found.lower, total, found.reflection_upper, found.branch / unit])

    return check(
        "sections/shared-exit",
        "two sections into one matched exit, the lower through a chamber and four slots",
        "pressure of each alone, their sum over a crossover, reflection and impedance of the branch",
        "nodal admittance matrix; crossover after Linkwitz, J. Audio Eng. Soc. 24 (1976) 2 (from memory)",
        2e-9,
        DIGITS,
        values,
    )


def _slot_rule() -> list[Check]:
    smith = "condition after B. H. Smith, J. Acoust. Soc. Am. 25 (1953) 305 (from memory)"

    def annuli() -> Pair:
        exact, found = list[float](), list[float]()
        for row in rows("air_slot_rule"):
            exact += [float(v) for key in ("x_1_to_N", "r_over_a", "area_fraction") for v in row[key].split()]
            layout = slots_by_modes(int(row["N"]), float(row["beta"]))
            found += [*layout.roots, *layout.radius, *layout.area]
        return np.array(exact), np.array(found)

    def discs() -> Pair:
        exact, found = list[Array](), list[Array]()
        for count in range(1, 6):
            modes, layout = jn_zeros(1, count), slots_by_modes(count)
            radius = jn_zeros(0, count) / modes[-1]
            conditions = np.vstack((np.ones(count), j0(np.outer(modes[:-1], radius))))
            exact += radius, np.linalg.solve(conditions, np.eye(count)[0])
            found += layout.radius, layout.area
        return np.concatenate(exact), np.concatenate(found)

    return [
        check(
            "slots/annuli",
            "one to three slots over annuli of 0.3 to 0.8",
            "roots, radii, areas",
            f"{smith}; separate finite-difference eigen-solution",
            5e-9,
            "nine digits in the table",
            annuli,
            scale="each",
        ),
        check(
            "slots/discs",
            "one to five slots over a disc",
            "radii, areas",
            smith + ": radii j0_i/j1_N, areas from sum A_i J0(j1_n r_i) = 0, solved here",
            1e-9,
            "zeros of Bessel functions to thirteen digits",
            discs,
            scale="each",
        ),
    ]


def _junctions() -> list[Check]:
    slot, angle = rows("air_slot_junction"), np.radians((10.0, 30.0, 60.0, 90.0, 120.0))
    n = column(slot, "b_over_g")

    def slots() -> Pair:
        exact = [column(slot, f"Lambda_{k}") + column(slot, f"FE_minus_closed_{k}") for k in "st"]
        return np.array(exact), np.array((junction.slot_inflow(n), junction.slot_through_flow(n)))

    return [
        check(
            "gap/slot",
            "slot in the wall of a thin gap, half-width 0.1 to 3 gaps",
            "extra resistance of inflow and of flow past it",
            "plane potential flow by finite elements of order 6; Hall (1968), Carter (1926), both from memory",
            1e-6,
            "the elements' own error",
            slots,
        ),
        check(
            "gap/bend",
            "sharp bend of a thin gap by 10 to 120 degrees",
            "extra resistance",
            "plane potential flow by elements of order 4 graded to both corners, solved here",
            1e-6,
            "the elements' own error, 2e-7 at 120 degrees; 1e-5 with cells of twice the size",
            lambda: (np.array([bend_resistance(float(theta)) for theta in angle]), junction.bend(angle)),
            scale="each",
        ),
    ]


def checks() -> list[Check]:
    """Each part of the air and of the motor alone."""
    lines = ("annular_channel_lossy", "exponential_horn", "conical_horn", "widening_channel_lossy")
    return [
        *(_property(name, source) for name, source in PROPERTIES.items()),
        _slit(),
        *(_line(case) for case in lines),
        *(_motor(kind) for kind in INDUCTANCES),
        _shared_exit(),
        *_slot_rule(),
        *_junctions(),
    ]
