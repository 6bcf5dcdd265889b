"""Thin chambers over a face that moves as one body: Bessel functions, spectral elements, air in two dimensions."""

from functools import cache, partial

import numpy as np

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.load import junction, line
from diaphragm_fem.load.exit_end import matched
from diaphragm_fem.load.slit import slit, unwalled
from diaphragm_fem.load.slot_network import SlotNetwork, separate
from diaphragm_fem.load.slot_rule import slots_by_modes
from diaphragm_fem.load.thin_chamber import ThinChamber, on_modes, rigid_wall_modes, thin_chamber
from diaphragm_fem.mesh.gap_face import GapFace, gap_by_width
from diaphragm_fem.mesh.gap_line import SlotMouth, cut_gap
from diaphragm_fem.mesh.gap_section import cut_gap_section
from diaphragm_fem.model.air.section import AirAnswer, Gas, air_before_rigid_face
from diaphragm_fem.verify.check import Check, Pair
from diaphragm_fem.verify.rungs.air_parts import AIR, RHO_C, by_largest, omega_of
from diaphragm_fem.verify.tables import cases, column, phasor, rows

RUNG = "thin chambers"
check = partial(Check, rung=RUNG, model="load", scale="largest")
MM = 1e-3
Slots = tuple[tuple[float, float], ...]  # radius and width of each, mm
FLAT: dict[str, tuple[float, float, float, Slots, float]] = {
    # inner and outer radius, gap, slots (radius, width), channel length; mm
    "disc_one_slot": (0, 25, 0.6, ((15.69030594, 0.9),), 0),
    "disc_two_slots_rule": (0, 25, 0.6, ((8.569581, 0.67273205), (19.6707645, 0.67783646)), 0),
    "annulus_two_slots": (11, 22, 0.5, ((13.5, 0.7), (19.0, 0.7)), 0),
    "disc_two_slots_rule_lossy": (0, 25, 0.3, ((8.569581, 0.67273205), (19.6707645, 0.67783646)), 8),
    "annulus_two_slots_lossy": (11, 22, 0.25, ((13.5, 0.35), (19.0, 0.35)), 6),
}


def flat_face(inner: float, outer: float, gap: float) -> GapFace:
    """Even gap over a flat ring, metres."""
    return gap_by_width(np.array(((inner, 0.0), (outer, 0.0))), lambda s: np.full_like(s, gap))


def even_flow(chamber: ThinChamber, face: np.ndarray) -> Array:
    """Integral of each pattern times 2 pi r dr over a face of straight pieces (K, 2): what even axial motion sweeps."""
    x, w = np.polynomial.legendre.leggauss(6)
    total = np.zeros(chamber.patterns.shape[1])
    for begin, step in zip(face[:-1], np.diff(face, axis=0), strict=True):
        inside = (chamber.line.point - begin) @ step / (step @ step)
        marks = np.unique(np.clip(np.concatenate(((0.0, 1.0), inside)), 0, 1))
        at = (marks[:-1, None] + np.diff(marks)[:, None] * (x + 1) / 2).ravel()
        points = begin + at[:, None] * step
        sweep = np.pi * points[:, 0] * step[0] * (np.diff(marks)[:, None] * w).ravel()
        total += sweep @ chamber.shapes(chamber.line.place_of(points))
    return np.asarray(total)


def flat_answer(
    inner: float, outer: float, gap: float, slots: Slots, length: float, w: Array, count: int = 40
) -> tuple[Complex, Complex]:
    """Z and U_j as the table has them, lengths in mm; lossless where the channels have no length."""
    air = AIR if length else AIR.lossless
    mouths = [SlotMouth((r - inner) * MM, width * MM) for r, width in slots]
    cut = cut_gap(flat_face(inner * MM, outer * MM, gap * MM), mouths, 2e-3, widest=9.0)
    chamber = on_modes(thin_chamber(cut, corrected=False), count)
    areas = [2 * np.pi * r * width * MM**2 for r, width in slots]
    deep = max(length, 1e-9) * MM
    channels = [line.cylinder(slit(air, x * MM, w), s, deep) for (_, x), s in zip(slots, areas, strict=True)]
    network = separate(channels, [matched(air, s, w) for s in areas])
    flow = even_flow(chamber, np.array(((inner, 0.0), (outer, 0.0))) * MM)
    pressure = (chamber.stiffness(air, w, network) @ flow) / (1j * w)[:, None]
    area = np.pi * (outer**2 - inner**2) * MM**2
    into = np.einsum("fij,fj->fi", network.admittance, pressure @ chamber.slots)
    return np.asarray(pressure @ flow / (RHO_C * area)), np.asarray(into / area)


def _flat(case: str) -> Check:
    table = cases("air_thin_chamber", "case")[(case,)]
    names = ["Z", *(f"U{j + 1}" for j in range(len(FLAT[case][3])))]
    reference = [phasor(table, name) for name in names]

    def values() -> Pair:
        impedance, flows = flat_answer(*FLAT[case], omega_of(table))
        return by_largest(reference, [impedance, *flows.T])

    return check(
        f"chamber/{case.replace('_', '-')}",
        f"thin chamber, {case.replace('_', ' ')}, 200 Hz to 20 kHz",
        "pressure force, flow into each slot; complex",
        "Bessel functions with 25 digits",
        1.5e-7,
        "40 rigid-wall modes: 4e-8; with 24 of them 6e-7, on all functions 4e-9",
        values,
    )


def _rule_effect() -> Check:
    table = rows("air_slot_rule_effect")
    total, limits = 1.2e-4, (8e3, 12e3, 15e3, 20e3, 26e3)

    def of_areas(radius: Array, area: Array) -> Slots:
        return tuple((r / MM, a * total / (2 * np.pi * r) / MM) for r, a in zip(radius, area, strict=True))

    def layout(name: str) -> Slots:
        if name.startswith("rule_N") or name == "one_slot_node":
            rule = slots_by_modes(int(name[-1]) if name.startswith("rule") else 1)
            return of_areas(25 * MM * rule.radius, rule.area)
        if name == "one_slot_half_radius":
            return of_areas(np.array([12.5 * MM]), np.ones(1))
        return of_areas(25 * MM * np.array((0.25, 0.75)), np.array((0.5, 0.5)))

    def values() -> Pair:
        f = np.arange(50.0, 26001.0, 25.0)
        w = 2 * np.pi * f
        ideal = 1 / (1 + 1j * w * np.pi * 0.025**2 * 0.6 * MM / AIR.bulk_modulus * RHO_C / total)
        found = []
        for row in table:
            _, flows = flat_answer(0, 25, 0.6, layout(row["slots"]), 0, w)
            off = np.abs(20 * np.log10(np.abs(flows.sum(axis=1) / ideal)))
            found.append([off[f < top].max() for top in limits])
        printed = np.array([column(table, f"to_{top / 1e3:.0f}k") for top in limits]).T
        return 10 ** (printed / 20), 10 ** (np.array(found) / 20)

    return check(
        "chamber/slot-rule",
        "disc of 25 mm with slots by the modal rule and by other layouts, up to 26 kHz",
        "largest deviation from the even-pressure chamber, as a ratio",
        "spectral elements of order 12; rule after B. H. Smith (1953, from memory)",
        2e-3,
        "two decimals of a decibel in the table",
        values,
        scale="each",
    )


V_FACE = np.array(((12.3, 8.8), (22.0, 0.0), (29.3, 8.8))) * MM
V_SLOT, V_DEPTH = 0.8 * MM, 2 * MM


def v_slots() -> tuple[np.ndarray, np.ndarray]:
    """Centres (2, 2) of the slots on the face, and the normals there."""
    step = np.diff(V_FACE, axis=0)
    along = step / np.linalg.norm(step, axis=1, keepdims=True)
    normal = np.stack((-along[:, 1], along[:, 0]), axis=1)
    return np.stack((V_FACE[1] + 4.5 * MM * along[1], V_FACE[0] + 8.6 * MM * along[0])), normal[::-1]


def v_gap(gap: float) -> tuple[GapFace, list[SlotMouth]]:
    face = gap_by_width(V_FACE, lambda s: np.full_like(s, gap))
    return face, [SlotMouth(float(p), V_SLOT) for p in cut_gap(face).place_of(v_slots()[0])]


def v_network(gap: float, w: Array) -> SlotNetwork:
    """The two slots with their inertance, each a conical piece with a matched end."""
    channels, ends = [], []
    n = V_SLOT / (2 * gap)
    for centre, normal in zip(*v_slots(), strict=True):
        entry, exit = (2 * np.pi * V_SLOT * (centre[0] + normal[0] * (gap + x)) for x in (0.0, V_DEPTH))
        gained = AIR.density * (junction.slot_inflow(n) - junction.slot_through_flow(n)) / (4 * np.pi * centre[0])
        channels.append(line.cascade(line.series(1j * w * gained), line.cone(unwalled(AIR, w), entry, exit, V_DEPTH)))
        ends.append(matched(AIR, float(exit), w))
    return separate(channels, ends)


def _v_chamber(gap: float) -> Check:
    table = cases("air_v_chamber", "g_mm")[(f"{gap:g}",)]

    def values() -> Pair:
        w, air = omega_of(table), AIR.lossless
        face, mouths = v_gap(gap * MM)
        cut = cut_gap(face, mouths, widest=3.0)
        chamber, network = thin_chamber(cut), v_network(gap * MM, w)
        pressure = chamber.stiffness(air, w, network) @ even_flow(chamber, V_FACE) / (1j * w)[:, None]
        ends = (pressure @ chamber.slots) * network.transfer / RHO_C
        return np.abs([phasor(table, "p1"), phasor(table, "p2")]), np.abs(ends.T)

    return check(
        f"chamber/v-{gap:g}mm",
        f"V face, gap {gap:g} mm, two slots, 500 Hz to 20 kHz: one-dimensional chamber with its local corrections",
        "size of the pressure at each slot's end",
        "axisymmetric elements of order 5 of the real gap, slots and bend",
        1.2e-2,
        "what the local corrections leave: 0.08 dB at 15 kHz, gap 0.6 mm",
        values,
        scale="each",
    )


@cache
def v_in_two_dimensions(gap: float, finest: float = 3e-5) -> AirAnswer:
    """The V chamber of a gap in mm as air in two dimensions, at the frequencies of the table."""
    face, mouths = v_gap(gap * MM)
    w = omega_of(cases("air_v_chamber", "g_mm")[(f"{gap:g}",)])
    beyond = np.zeros((len(w), 2, 2), complex)
    for j, (centre, normal) in enumerate(zip(*v_slots(), strict=True)):
        beyond[:, j, j] = 2 * np.pi * V_SLOT * (centre[0] + normal[0] * (gap * MM + V_DEPTH)) / RHO_C
    section = cut_gap_section(face, mouths, [V_DEPTH, V_DEPTH], finest)
    density, wave_number = np.full(len(w), AIR.density), w / AIR.sound_speed
    return air_before_rigid_face(section, Gas(w, density, wave_number), beyond)


def _v_in_two_dimensions(gap: float) -> Check:
    table = cases("air_v_chamber", "g_mm")[(f"{gap:g}",)]
    reference = [phasor(table, name) for name in ("p1", "p2", "Z")]
    area = np.pi * (V_FACE[-1, 0] ** 2 - V_FACE[0, 0] ** 2)

    def values() -> Pair:
        found = v_in_two_dimensions(gap)
        return by_largest(reference, [*(found.slot_end.T / RHO_C), found.back / (RHO_C * area)])

    return check(
        f"chamber/v-{gap:g}mm-second-opinion",
        f"the same in two dimensions, biquadratic cells, 0.03 mm beside sharp corners, gap {gap:g} mm",
        "pressure at each slot's end, force; complex",
        "axisymmetric elements of order 5, another mesh",
        5e-4,
        "the mesh: 1.3e-4 here, a tenth of that with cells of half the size",
        values,
    )


def _closed_chamber() -> Check:
    """Rigid-wall modes of discs and annuli."""
    betas, count = (0.0, 0.1, 0.3, 0.5, 0.8), 4

    def values() -> Pair:
        found = []
        for beta in betas:
            chamber = thin_chamber(cut_gap(flat_face(beta * 0.03, 0.03, 0.5 * MM), element=0.7e-3))
            found.append(rigid_wall_modes(chamber, count + 1)[0][1:] * 0.03)
        return np.array([slots_by_modes(count, beta).roots for beta in betas]), np.array(found)

    return check(
        "chamber/rigid-walls",
        "radial modes of flat closed chambers, inner over outer radius 0 to 0.8",
        "x = omega a/c",
        "J1(x) = 0 and J1(x) Y1(beta x) = Y1(x) J1(beta x), solved here",
        1e-6,
        "elements of 0.7 mm and fourth order, the fourth mode over an annulus of 6 mm",
        values,
        scale="each",
    )


def checks() -> list[Check]:
    """Flat chambers, slots by the modal rule, the V chamber in one and two dimensions."""
    return [
        _closed_chamber(),
        *(_flat(case) for case in FLAT),
        _rule_effect(),
        *(_v_chamber(gap) for gap in (0.6, 0.3)),
        *(_v_in_two_dimensions(gap) for gap in (0.6, 0.3)),
    ]
