"""Air, slits, lines, ends, motor: limits, laws and refusals. Values stand in the ladder (rungs of the air)."""

import numpy as np
import pytest
from scipy.special import j0, j1, jv, y0, y1

from diaphragm_fem.design.driver.driver import Inductance, Motor
from diaphragm_fem.errors import ModelError
from diaphragm_fem.load import line, motor, two_sections
from diaphragm_fem.load.air import Air, moist_air, vapour_fraction
from diaphragm_fem.load.exit_end import check_table, horn, matched, piston_in_baffle, tabled
from diaphragm_fem.load.rear_chamber import chamber_modulus, chamber_stiffness, leak_impedance, tube_behind
from diaphragm_fem.load.slit import slit, tube, unwalled
from diaphragm_fem.load.slot_network import join, separate
from diaphragm_fem.load.slot_rule import radial_roots, slots_by_modes
from diaphragm_fem.verify.tables import rows

AIR = Air(1.2041, 343.2, 1.825e-5, 1.4, 0.71)
W = 2 * np.pi * np.geomspace(20, 20e3, 40)


def test_air_carries_what_its_formulas_give():
    """CIPM-2007 and Cramer (1993), typed a second time; the bulk modulus is rho c^2 and gamma follows from it."""
    for row in rows("air_properties"):
        t, h, p = float(row["t_C"]), float(row["rh_percent"]) / 100, float(row["p_Pa"])
        if not 0 <= t <= 30 or p < 75e3:
            continue
        air = moist_air(t + 273.15, h, p)
        assert air.density == pytest.approx(float(row["rho"]), rel=1e-7)
        assert air.bulk_modulus == pytest.approx(air.gamma * p, rel=1e-12)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ((310.0, 0.5, 101325.0), "0 to 30 deg C.*received 36.85 deg C"),
        ((260.0, 0.5, 101325.0), "0 to 30 deg C.*received -13.15"),
        ((293.0, 0.5, 60e3), "75 to 102 kPa.*received 60 kPa"),
        ((293.0, 1.2, 101325.0), "between 0 and 1, received 1.2"),
    ],
)
def test_air_outside_the_formulas_is_refused(given, message):
    with pytest.raises(ModelError, match=message):
        moist_air(*given)


def test_air_within_the_formulas_holds_less_vapour_than_the_fit_of_its_speed_of_sound():
    """Cramer (1993), below 0.06; most of it is in the warmest, thinnest air."""
    assert vapour_fraction(303.15, 1.0, 75e3) < 0.06


def test_air_outside_the_range_of_its_density_says_so():
    assert not moist_air(293.15).notes
    assert "states its uncertainty" in moist_air(278.15).notes[0]


def test_a_slit_has_its_two_limits():
    """h -> 0: rho_e -> 12 mu/(i omega h^2) + 6/5 rho, C_e -> gamma/kappa. Wide: 1 + (1 - i) delta/h."""
    low = 2 * np.pi * np.array([1.0])
    thin = slit(AIR, 20e-6, low)
    assert thin.density == pytest.approx(12 * AIR.viscosity / (1j * low * (20e-6) ** 2) + 1.2 * AIR.density, rel=1e-6)
    assert thin.compliance * AIR.bulk_modulus == pytest.approx(AIR.gamma, rel=1e-5)
    high, h = 2 * np.pi * np.array([20e3]), 20e-3
    delta = np.sqrt(2 * AIR.viscosity / (AIR.density * high))
    assert slit(AIR, h, high).density == pytest.approx(
        AIR.density * (1 + (1 - 1j) * delta / h), rel=2 * (delta[0] / h) ** 2
    )


def test_a_tube_has_its_two_limits():
    """Poiseuille 8 mu/(i omega a^2) + 4/3 rho, and the boundary layer 1 + (1 - i) delta/a."""
    low, a = 2 * np.pi * np.array([1.0]), 20e-6
    assert tube(AIR, a, low).density == pytest.approx(
        8 * AIR.viscosity / (1j * low * a**2) + 4 / 3 * AIR.density, rel=1e-6
    )
    high, a = 2 * np.pi * np.array([20e3]), 10e-3
    delta = np.sqrt(2 * AIR.viscosity / (AIR.density * high))
    wide = AIR.density * (1 + (1 - 1j) * delta / a)
    assert tube(AIR, a, high).density == pytest.approx(wide, rel=3 * (delta[0] / a) ** 2)


def test_a_wide_tube_has_the_bessel_functions_of_a_narrow_one():
    """T = 2 J1(y)/(y J0(y)) (Stinson 1991) by SciPy's functions, on both sides of where their series takes over."""
    wide = (20.0 + np.array([-17.0, -0.5, 0.01, 5.0, 100.0])) * np.sqrt(2)
    omega = np.array([2e3])
    for y in wide:
        found = tube(AIR, y / float(np.sqrt(omega[0] * AIR.density / AIR.viscosity)), omega)
        exact = 2 * jv(1, y * np.exp(-0.25j * np.pi)) / (y * np.exp(-0.25j * np.pi) * jv(0, y * np.exp(-0.25j * np.pi)))
        assert 1 - AIR.density / found.density == pytest.approx([exact], rel=1e-11)


def test_without_viscosity_slits_and_tubes_are_open_air():
    for medium in (slit(AIR.lossless, 1e-4, W), tube(AIR.lossless, 1e-4, W)):
        assert medium.density == pytest.approx(unwalled(AIR, W).density)
        assert medium.wave_number == pytest.approx(W / AIR.sound_speed, rel=1e-12)


def test_lines_are_reciprocal_and_a_cylinder_is_a_cone_of_equal_ends():
    medium = slit(AIR, 0.3e-3, W)
    pieces = [line.cone(medium, 1e-4, 3e-4, 0.02), line.cone(medium, 3e-4, 2e-4, 0.02), line.series(1j * W)]
    whole = line.cascade(*pieces)
    assert np.linalg.det(whole) == pytest.approx(np.ones(len(W)), rel=1e-10)
    assert line.cylinder(medium, 1e-4, 0.02) == pytest.approx(line.cone(medium, 1e-4, 1e-4, 0.02))


def test_a_chain_of_cones_tends_to_the_exponential_horn_with_second_order():
    """T12 = i omega rho sin(b L) e^(-m L/2)/(S1 b), b^2 = q^2 - m^2/4, S = S1 e^(m x) (Webster's equation; Pierce,
    Acoustics, from memory)."""
    medium = unwalled(AIR, 2 * np.pi * np.linspace(200, 10e3, 30))
    m = np.log(10) / 0.1
    b = np.sqrt(medium.wave_number**2 - m**2 / 4)
    exact = 1j * medium.omega * AIR.density * np.sin(b * 0.1) * np.exp(-m * 0.05) / (1e-4 * b)
    off = []
    for pieces in (10, 20, 40):
        x = np.linspace(0, 1, pieces + 1)
        chain = line.area_law(1e-4 * 10**x, 0.1 * x, lambda _: medium)
        off.append(np.abs(chain[:, 0, 1] - exact).max())
    assert off[0] / off[1] == pytest.approx(4, rel=0.1) and off[1] / off[2] == pytest.approx(4, rel=0.05)


@pytest.mark.parametrize(
    ("area", "place", "message"),
    [
        ((1e-4, 0.0), (0.0, 0.1), "above zero, received 0 cm2 at 100 mm"),
        ((1e-4, 2e-4), (0.1, 0.1), "must rise, received 100 mm and then 100 mm"),
        ((1e-4, 2e-4), (0.0, np.nan), "must rise, received 0 mm and then nan mm"),
        ((1e-4,), (0.0,), "two stations or more"),
    ],
)
def test_area_laws_that_cannot_be_are_refused(area, place, message):
    with pytest.raises(ModelError, match=message):
        horn(AIR, area, place, W)


def test_a_channel_that_nothing_passes_is_refused():
    """Its two-port would overflow. In a slit of 0.1 um air is viscous and isothermal: Im q = -sqrt(6 mu omega/p0)/h."""
    air, omega = moist_air(), np.array([1e3, 1e4])
    fall = 8.686 * np.sqrt(6 * air.viscosity * 1e4 * air.gamma / air.bulk_modulus) / 1e-7 * 0.01
    said = rf"0\.01 mm2 and 10 mm .* falls by {fall:.3g} dB".replace("+", r"\+")
    with pytest.raises(ModelError, match=said + r"\): widen or shorten it"):
        line.cylinder(slit(air, 1e-7, omega), 1e-8, 0.01)
    assert np.all(np.isfinite(line.cylinder(slit(air, 2e-6, omega), 1e-8, 0.01)))


def test_a_piston_in_a_baffle_has_the_printed_values():
    """Beranek and Mellow, Acoustics: 1 - J1(2ka)/ka + i H1(2ka)/ka, computed at ka = 1 and 3."""
    area = np.pi * 0.05**2
    ka = np.array([1.0, 3.0])
    found = piston_in_baffle(AIR, area, ka * AIR.sound_speed / 0.05) * area / (AIR.density * AIR.sound_speed)
    assert found == pytest.approx([0.42327519 + 0.64676373j, 1.09222795 + 0.15939175j], abs=1e-8)


def test_a_long_horn_ends_like_a_tube_well_above_its_cut_off():
    throat, mouth = 4e-4, 300e-4
    x = np.linspace(0, 1, 60)
    w = 2 * np.pi * np.array([8e3])
    found = horn(AIR.lossless, throat * (mouth / throat) ** x, 0.5 * x, w)
    assert found == pytest.approx(matched(AIR, throat, w), rel=0.05)  # what the flare and the mouth leave at 8 kHz


def test_a_cone_ends_in_its_mouth_and_an_even_horn_is_a_tube():
    """Spherical waves p = (A exp(-ikx) + B exp(ikx))/x, U = i S p'/(omega rho), ended by the mouth's own impedance
    (Pierce, Acoustics, sect. 7-8, from memory); with walls that lose, a round tube of that radius with its end."""
    throat, mouth, long, air = 4e-4, 36e-4, 0.12, AIR.lossless
    k, near = W / air.sound_speed, long / 2  # from the apex to the throat; the mouth is three times as wide
    x = near + np.array([0.0, long])
    wave = np.exp(-1j * k * x[:, None]) / x[:, None], np.exp(1j * k * x[:, None]) / x[:, None]
    slope = [(sign * 1j * k - 1 / x[:, None]) * p for sign, p in zip((-1, 1), wave, strict=True)]
    flow = [1j * np.array([[throat], [mouth]]) / (W * air.density) * s for s in slope]
    end = piston_in_baffle(air, mouth, W)
    back = -(wave[0][1] - end * flow[0][1]) / (wave[1][1] - end * flow[1][1])
    exact = (wave[0][0] + back * wave[1][0]) / (flow[0][0] + back * flow[1][0])
    assert horn(air, [throat, mouth], [0.0, long], W) == pytest.approx(exact, rel=1e-9)
    narrow = np.pi * 1.5e-3**2
    even = line.seen(line.cylinder(tube(AIR, 1.5e-3, W), narrow, 0.05), piston_in_baffle(AIR, narrow, W))
    assert horn(AIR, [narrow, narrow], [0.0, 0.05], W) == pytest.approx(even, rel=1e-9)


def test_tables_of_impedance_are_not_extrapolated():
    w = 2 * np.pi * np.array([200.0, 500.0])
    found = tabled([100, 1000], [1 + 1j, 3 + 2j], w)
    assert found.real == pytest.approx(1 + 2 * np.log10(w / (200 * np.pi)))
    check_table([100, 1000], [1 + 1j, 3 + 2j], 100, 1000)
    for frequency, impedance, message in (
        ([100, 1000], [1, 1], "100 to 1000 Hz and is not extrapolated; asked for 50 to 1000 Hz"),
        ([100, 100], [1, 1], "rise line by line"),
        ([np.nan, 1000], [1, 1], "rise line by line"),
        ([100, 1000], [1, np.nan], "has gaps"),
        ([100, 1000], [1, -1], "negative resistance: the table has one at 1000 Hz"),
    ):
        with pytest.raises(ModelError, match=message):
            check_table(frequency, impedance, 50, 1000)


def test_channels_that_join_are_passive_reciprocal_and_one_alone_is_a_line():
    area, end = 1e-4, matched(AIR, 3e-4, W)
    channels = [line.cylinder(slit(AIR, 0.4e-3, W), area, length) for length in (0.01, 0.02, 0.03)]
    network = join(channels, end)
    assert network.admittance == pytest.approx(np.swapaxes(network.admittance, 1, 2))
    assert np.linalg.eigvalsh(network.admittance.real).min() > 0
    alone = join(channels[:1], end)
    assert 1 / alone.admittance[:, 0, 0] == pytest.approx(line.seen(channels[0], end))
    apart = separate(channels[:1], [end])
    assert apart.admittance == pytest.approx(alone.admittance) and apart.transfer == pytest.approx(alone.transfer)


def test_a_rear_chamber_is_a_spring_that_a_leak_opens():
    empty = chamber_modulus(AIR, W)
    assert empty == pytest.approx(AIR.bulk_modulus)
    assert chamber_modulus(AIR, W, filling=1.0) == pytest.approx(AIR.bulk_modulus / AIR.gamma)
    leak = leak_impedance(AIR, 1e-3, 5e-3, W)
    found = np.divide(*chamber_stiffness(empty, 1e-5, W, leak))
    assert abs(found[0]) < 0.2 * AIR.bulk_modulus / 1e-5 and np.all(found.imag > 0)
    assert found[-1] == pytest.approx(AIR.bulk_modulus / 1e-5, rel=1e-2)  # high up the leak's inertance shuts it


def test_a_leak_has_friction_and_both_of_its_ends():
    """Poiseuille's 8 mu/(pi a^4) and 4/3 rho/S low down, over L and 0.85 a beyond each end (Kinsler, Frey, Coppens and
    Sanders, Fundamentals of Acoustics, flanged ends, from memory)."""
    a, long, low = 20e-6, 1e-3, 2 * np.pi * np.array([1.0])
    per_length = 8 * AIR.viscosity / (np.pi * a**4) + 4j / 3 * low * AIR.density / (np.pi * a**2)
    assert leak_impedance(AIR, 2 * a, long, low) == pytest.approx((long + 1.7 * a) * per_length, rel=1e-6)


def test_a_filling_loses_its_share_of_what_it_stores():
    """A loss factor is the imaginary over the real part of the spring, whatever stiffness the filling leaves."""
    found = chamber_modulus(AIR, W, 0.5, 0.3)
    assert found.imag / found.real == pytest.approx(0.3) and found.real == pytest.approx(AIR.bulk_modulus / 1.2)


def test_a_chamber_with_its_depth_is_a_closed_tube():
    """Z = -i (rho c/S) cot k L (Kinsler, Frey, Coppens and Sanders, from memory): kappa/V times k L cot k L, nothing at
    c/4 L and without end at c/2 L; a filling makes its waves slower; walls lose as those of any round channel."""
    volume, depth, air = 120e-6, 60e-3, AIR.lossless
    for modulus in (chamber_modulus(air, W), chamber_modulus(air, W, 1.0, 0.2)):
        inside = tube_behind(air, modulus, volume, depth, W)
        found = np.divide(*chamber_stiffness(1 / inside.compliance, volume, W, None, inside.wave_number * depth))
        x = W * depth * np.sqrt(air.density / modulus)
        assert found == pytest.approx(modulus / volume * x / np.tan(x), rel=1e-9)
    full = 2 * np.pi * air.sound_speed / depth * np.array([1 / 4, 1 / 2])
    inside = tube_behind(air, chamber_modulus(air, full), volume, depth, full)
    push, give = chamber_stiffness(1 / inside.compliance, volume, full, None, inside.wave_number * depth)
    assert abs(push[0]) < 1e-9 * abs(push[1]) and abs(give[1]) < 1e-9 * abs(give[0])
    lossy, area = tube_behind(AIR, chamber_modulus(AIR, W), volume, depth, W), volume / depth
    two_port = line.cylinder(tube(AIR, np.sqrt(area / np.pi), W), area, depth)
    found = np.divide(*chamber_stiffness(1 / lossy.compliance, volume, W, None, lossy.wave_number * depth))
    assert found == pytest.approx(1j * W * two_port[:, 0, 0] / two_port[:, 1, 0], rel=1e-9)


def test_small_signal_parameters_have_their_definitions():
    """Thiele (1971), Small (1972), from memory; the impedance's peak is R_e (1 + Q_ms/Q_es)."""
    unit = Motor(8.0, 6.2)
    found = motor.small_signal(unit, 2.4e-3, 45e-6, 0.35, 22e-4, 1.2041, 343.2)
    w = 2 * np.pi * found.f_s
    z_m = 0.35 + 1j * w * 2.4e-3 + 1 / (1j * w * 45e-6)
    peak = motor.drive(unit, z_m, w).terminal_impedance
    assert abs(peak) == pytest.approx(6.2 * (1 + found.Q_ms / found.Q_es), rel=1e-9)
    assert (found.f_s, found.Q_ts) == pytest.approx((484.293069, 0.684274), rel=1e-6)
    assert (found.V_as * 1e3, found.eta_0 * 100) == pytest.approx((0.030890, 0.484336), rel=1e-4)


def test_braking_is_what_the_circuit_adds_to_the_mechanics():
    """Thevenin and Norton: Bl/Z over Z_m and what brakes, over i omega, is the velocity per volt behind all of Z."""
    unit = Motor(6.2, 5.0, Inductance("two-stage", 0.1e-3, 0.2e-3, 3.0), source_resistance=1.5)
    z_m = 0.4 + 1j * W * 2e-3 + 1 / (1j * W * 1e-4)
    circuit = unit.coil_resistance + unit.source_resistance + motor.inductive(unit.inductance, W)
    velocity = unit.force_factor / circuit / (z_m + motor.braking(unit, W) / (1j * W))
    np.testing.assert_allclose(motor.drive(unit, z_m, W).velocity, velocity, rtol=1e-12)


def test_an_unknown_inductance_is_refused():
    with pytest.raises(ValueError, match="no inductance"):
        motor.inductive(Inductance("square"), W)


def test_the_crossover_sums_to_an_all_pass():
    """Linkwitz (1976): -6.02 dB each and in phase at the crossing; two equal sources at -6.02 dB sum to 0 dB."""
    f = np.geomspace(20, 20e3, 50)
    for order in (2, 4, 8):
        low, high = two_sections.crossover(f, 1000.0, order)
        assert np.abs(low + high) == pytest.approx(1, rel=1e-9)
        at = [x[0] for x in two_sections.crossover(np.array([1000.0]), 1000.0, order)]
        assert np.abs(at) == pytest.approx(0.5) and at[0] == pytest.approx(at[1])
        assert 20 * np.log10(abs(sum(at))) == pytest.approx(0, abs=1e-9)
    with pytest.raises(ModelError, match="2, 4 or 8, received 3"):
        two_sections.crossover(f, 1000.0, 3)


def test_a_branch_alone_reflects_as_a_shunt():
    """|r| = 1/|1 + 2 Z_s S_1/(rho c)| of one branch on a matched line."""
    area = 6e-4
    unit = AIR.density * AIR.sound_speed / area
    branch = 1j * W * AIR.density * 6e-3 / 1.4e-4
    one = np.ones(len(W), complex)
    onward = line.cylinder(unwalled(AIR, W), area, 0.03)
    upper, lower = two_sections.Source(one, matched(AIR, area, W)), two_sections.Source(one, branch)
    found = two_sections.share_exit(upper, lower, onward, matched(AIR, area, W), unit)
    assert np.abs(found.reflection_upper) == pytest.approx(1 / np.abs(1 + 2 * branch / unit))
    assert found.reflection_lower == pytest.approx(-1 / 3)  # a matched line to both sides: half its impedance


def test_a_narrow_horn_loses_at_its_walls_by_the_radius_that_it_has_there():
    """Against 800 short tubes, each of its own radius and of the mean of its area (stepped approximation, from memory):
    the real part of what the throat sees is mostly loss low down."""
    inner, outer, long, count = 0.4e-3, 2e-3, 0.06, 800
    radius = np.linspace(inner, outer, count + 1)
    found = horn(AIR, np.pi * radius[[0, -1]] ** 2, [0.0, long], W)
    exact = piston_in_baffle(AIR, np.pi * outer**2, W)
    for a, b in zip(radius[-2::-1], radius[:0:-1], strict=True):
        medium = tube(AIR, (a + b) / 2, W)
        own, turn = (
            medium.impedance(np.pi * (a * a + a * b + b * b) / 3),
            1j * np.tan(medium.wave_number * long / count),
        )
        exact = own * (exact + own * turn) / (own + exact * turn)
    np.testing.assert_allclose(found, exact, rtol=2e-4)  # 200 cones, their walls taken in the middle of each


def test_a_source_behind_a_horn_gives_what_the_horn_passes_on():
    """Into any end: p_b Z/(Z + Z_s) of the source seen through a horn, whose two ends are not alike, against the share
    of p_b at its throat and what of that arrives."""
    medium, end = unwalled(AIR, W), piston_in_baffle(AIR, 4e-3, W)
    cone, inner = line.cone(medium, 1e-3, 4e-3, 0.05), 3e5 + 1j * W * 80
    found = two_sections.Source(np.full(len(W), 2.0 + 1j), inner).through(cone)
    throat = line.seen(cone, end)
    exact = (2 + 1j) * throat / (throat + inner) * line.passed_on(cone, end)
    np.testing.assert_allclose(found.pressure * end / (end + found.impedance), exact, rtol=1e-10)


def test_a_section_plays_to_where_its_third_octave_falls_six_decibels():
    """24 dB an octave beyond 500 Hz and 2 kHz: the mean power of a third of an octave lies 10 lg(sinh x/x) higher,
    x = 2.4 ln 10/6, so that a section ends (6 + 0.60)/24 octaves beyond."""
    f = np.geomspace(20, 50e3, 20_000)
    lower, upper = (100 - 24 * np.maximum(way * np.log2(f / end), 0) for way, end in ((1, 2000.0), (-1, 500.0)))
    x = 2.4 * np.log(10) / 6
    beyond = 2 ** ((6 + 10 * np.log10(np.sinh(x) / x)) / 24)
    found = two_sections.both_play(f, upper, lower, (600.0, 40e3), (30.0, 1700.0))
    assert found == pytest.approx((500 / beyond, 2000 * beyond), rel=1e-3)  # points are 5.6e-4 octaves apart


def test_both_sections_play_from_the_uppers_lower_to_the_lowers_upper_end():
    f = np.geomspace(100, 10e3, 2000)
    lower = np.where(f < 2000, 100.0, 60.0)
    upper = np.where(f > 500, 100.0, 60.0)
    found = two_sections.both_play(f, upper, lower, (1000, 10e3), (100, 1000))
    assert found == pytest.approx(
        (500, 2000), rel=0.09
    )  # a window of a third of an octave blurs each by a tenth of one
    hole = two_sections.both_play(f, np.where(f > 4000, 100.0, 60.0), lower, (5e3, 10e3), (100, 1000))
    assert hole == pytest.approx((4000, 2000), rel=0.09)
    with pytest.raises(ModelError, match="no points of the curve"):
        two_sections.both_play(f, upper, lower, (20e3, 30e3), (100, 1000))


def test_a_section_is_judged_evenly_and_about_the_middle_of_its_band():
    """Points of a curve crowd at peaks: 10 dB more over two of five octaves are no median. Where the middle itself is
    silent, what plays nearest to it counts."""
    f = np.unique(np.concatenate((np.geomspace(100, 20e3, 2000), np.geomspace(2000, 8000, 4000))))
    level = np.where(f < 500, 60.0, np.where((f > 2000) & (f < 8000), 110.0, 100.0))
    assert two_sections.both_play(f, level, level, (500, 16e3), (500, 16e3))[0] == pytest.approx(500, rel=0.09)
    holed = np.where((f > 300) & (f < 1800), 60.0, 100.0)
    upper, _ = two_sections.both_play(f, holed, holed, (100, 20e3), (100, 20e3))  # their middle: 1.41 kHz
    assert upper == pytest.approx(1800, rel=0.09)


def test_a_section_is_judged_as_far_as_its_curve_goes():
    """A band that ends an octave beyond the curve, which falls by then: what lies beyond is none of its median."""
    f = np.geomspace(60, 20e3, 2000)
    level = np.interp(np.log(f), np.log([60, 5e3, 5.5e3, 13e3, 20e3]), [80.0, 80.0, 100.0, 100.0, 60.0])
    told = [two_sections.both_play(f, level, level, (8e3, top), (60, 8e3))[0] for top in (20e3, 40e3)]
    assert told[0] == told[1] == pytest.approx(5.0e3, rel=0.05)


@pytest.mark.parametrize("middle", [60.0, 1e3])
def test_what_plays_has_its_ends_in_order(middle):
    """In a band on a needle narrower than a third of an octave nothing smoothed is within 6 dB of its median."""
    f = np.geomspace(60, 20e3, 2000)
    low, high = two_sections.plays(f, np.full(len(f), 60.0), 90.0, (0.99 * middle, 1.01 * middle))
    assert low == high == pytest.approx(middle, rel=2e-3)


def test_what_plays_ends_between_points():
    """12 dB an octave about 600 Hz are 6 dB down half an octave off (closed form), wherever points lie."""
    f = np.geomspace(20, 20e3, 60)
    ends = two_sections.plays(f, 100 - 12 * np.abs(np.log2(f / 600)), 100.0, (500, 700))
    assert ends == pytest.approx((600 / np.sqrt(2), 600 * np.sqrt(2)), rel=1e-9)


def test_the_lowest_level_about_a_crossover_lies_within_an_octave_of_it():
    f = np.geomspace(100, 10e3, 2001)
    level = 100 - 20.0 * (np.abs(np.log(f / 1500)) < 0.01) - 40.0 * (np.abs(np.log(f / 490)) < 0.01)
    at, lowest = two_sections.lowest_about(f, level, 1000)
    assert lowest == 80 and at == pytest.approx(1500, rel=0.012)
    assert two_sections.lowest_about(np.array([100.0, 300.0]), np.array([90.0, 70.0]), 1000) == (300, 70)  # no point


def test_what_sections_cost_each_other_about_a_crossover_is_counted_from_the_louder():
    """Of a dome above a V the lowest level was 124 dB (7.99 kHz), with the other polarity 122: where the dome falls off
    alone. The first cost 6.3 dB at the crossover, 4 kHz, the other nowhere more than 1.9. Two alike, phi apart, give
    2 |cos phi/2| of one: elementary."""
    f = np.geomspace(500, 2000, 1001)
    phase = np.pi * (1 - 0.2 * np.log2(f / 1000) ** 2)  # 180 degrees at the crossover
    alone = np.where(f > 1900, 60.0, 90.0)  # falls off within the octave
    whole = alone + 20 * np.log10(np.abs(2 * np.cos(0.9 * phase / 2)))
    hz, lost = two_sections.lost_about(f, (alone, alone - 3.0), whole, 1000)
    assert hz == pytest.approx(1000, rel=1e-3)
    assert lost == pytest.approx(-20 * np.log10(2 * np.cos(0.45 * np.pi)), abs=1e-6)
    assert two_sections.lost_about(f, (alone, alone), alone + 6.0, 1000)[1] == 0


def test_a_section_plays_to_between_the_points_where_it_falls_six_decibels():
    """Points an octave apart: halfway into a step the window of a third of an octave holds a quarter of the power; the
    next point is 1.25 dB down. Straight over log f between both."""
    f, number = 100.0 * 2.0 ** np.arange(9), np.arange(9)
    lower, upper = (np.where(plays, 100.0, 60.0) for plays in (number <= 5, number >= 3))
    assert two_sections.smoothed(f, upper)[1:4] == pytest.approx([60.0, 100 - 10 * np.log10(4), 98.75], abs=0.05)
    octaves = (10 * np.log10(4) - 6) / (10 * np.log10(4) - 1.25)
    ends = two_sections.both_play(f, upper, lower, (1000, 30e3), (100, 3000))
    assert ends == pytest.approx((400 * 2**octaves, 6400 / 2**octaves), rel=1e-3)


def test_octaves_heard_move_as_little_as_a_hole_that_breaks_what_plays_in_two():
    """Six octaves with a hole of half an octave at their middle: where it falls through 6 dB what plays loses half of
    them, the octaves heard a share of the hole. Their sum, of straight lines, by hand."""
    f = 100.0 * 2.0 ** np.array([0.0, 3.0, 3.25, 3.5, 6.0])
    shallow, deep = (np.array([100.0, 100.0, 100.0 - depth, 100.0, 100.0]) for depth in (5.9, 6.1))
    whole, half = (np.log2(np.divide(*reversed(two_sections.plays(f, x, 100.0, (100, 6400))))) for x in (shallow, deep))
    assert whole == pytest.approx(6.0) and half < 3.25
    for level, depth in ((shallow, 5.9), (deep, 6.1)):
        share = 1.5 - depth / 6
        assert two_sections.octaves_heard(f, level, 100.0) == pytest.approx(5.5 + 0.25 * (1 + share))
    assert two_sections.octaves_heard(f, np.full(5, 80.0), 100.0) == 0.0


def test_minima_of_a_branch_are_marked():
    f = np.linspace(100, 10e3, 991)
    ripple = 1 + 0.01 * np.sin(f / 50)  # a hundredth is no dip
    assert two_sections.minima(f, ((f - 3000) + 1j) * ripple) == pytest.approx([3000], abs=10)


def test_slot_rule_refuses_what_is_no_layout():
    with pytest.raises(ModelError, match="a whole number of slots from 1 to 100, received 0"):
        slots_by_modes(0)
    with pytest.raises(ModelError, match=r"between 0 and 0\.98, received 1"):
        slots_by_modes(2, 1.0)
    found = slots_by_modes(3, 0.5)
    assert np.abs(found.residual).max() < 1e-10 and abs(found.next_mode) < 2e-3
    next_root = radial_roots(4, 0.5)[3]  # of an annulus, whose modes are largest at neither edge by 1

    def shape(r):
        return y1(next_root / 2) * j0(next_root * r) - j1(next_root / 2) * y0(next_root * r)

    largest = np.abs(shape(np.linspace(0.5, 1.0, 2001))).max()
    assert abs(found.next_mode) == pytest.approx(abs(found.area @ shape(found.radius)) / largest, rel=1e-9)
    width = found.area / found.radius
    assert width / width[-1] == pytest.approx(np.ones(3), rel=8e-3)  # equal ones on nodal circles are a good start
