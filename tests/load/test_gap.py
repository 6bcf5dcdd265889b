"""The gap along a face: geometry, refusals, limits; its values stand in the ladder."""

import re
from dataclasses import replace

import numpy as np
import pytest
from driver_cases import driver_data
from skfem import Basis, ElementQuad2, MeshQuad, condense, solve
from skfem.models.poisson import laplace

from diaphragm_fem.answer.driver.curve import driver_curve
from diaphragm_fem.answer.driver.loaded import load_design_on
from diaphragm_fem.design.driver.driver import Slot
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.read.read import design_from
from diaphragm_fem.errors import MeshError
from diaphragm_fem.load.air import Air
from diaphragm_fem.load.exit_end import matched
from diaphragm_fem.load.face_air import face_air
from diaphragm_fem.load.junction import bend, relief, slot_excess, slot_inflow, slot_through_flow
from diaphragm_fem.load.line import cylinder
from diaphragm_fem.load.plug import Plug, channel_area, channel_line, draw_plug
from diaphragm_fem.load.power import in_channels, in_gap, stored_away
from diaphragm_fem.load.slit import slit
from diaphragm_fem.load.slot_network import join
from diaphragm_fem.load.thin_chamber import conduction, on_modes, thin_chamber
from diaphragm_fem.mesh.gap_face import _merged, face_points, gap_by_width, gap_to_plug
from diaphragm_fem.mesh.gap_line import SlotMouth, cut_gap
from diaphragm_fem.mesh.gap_section import cut_gap_section
from diaphragm_fem.model.air.section import section_air
from diaphragm_fem.model.shell.front_face import Face
from diaphragm_fem.verify.rungs.air_chambers import even_flow, flat_face, v_in_two_dimensions

AIR = Air(1.2041, 343.2, 1.825e-5, 1.4, 0.71)
V = np.array(((12.0, 9.0), (22.0, 0.0), (30.0, 9.0))) * 1e-3
W = 2 * np.pi * np.geomspace(100, 20e3, 30)


def even(width):
    return lambda s: np.full_like(s, width)


def chamber_of(face, mouths, **kwargs):
    return thin_chamber(cut_gap(gap_by_width(face, even(0.5e-3)), mouths), **kwargs)


def network_of(chamber, air, w, length=8e-3, width=0.6e-3):
    area = 2 * np.pi * chamber.line.slot_radius * width
    return join([cylinder(slit(air, width, w), s, length) for s in area], matched(air, 4e-4, w))


def test_the_gap_has_the_volume_between_face_and_plug():
    """Pappus: area of the polygon between both times 2 pi times the radius of its centroid."""
    face = gap_by_width(V, even(0.5e-3))
    chamber = thin_chamber(cut_gap(face))
    one = np.ones(chamber.patterns.shape[1])
    ring = np.vstack((face.face, face.plug[::-1]))
    r, z = ring.T
    cross = r * np.roll(z, -1) - np.roll(r, -1) * z
    volume = abs(np.sum(cross * (r + np.roll(r, -1)))) * np.pi / 3
    assert one @ chamber.volume.sum(axis=0) @ one == pytest.approx(volume, rel=1e-5)  # (g/r)^2 of the bend's corner


def test_modes_of_a_gap_that_widens_answer_as_the_gap_does():
    """Twenty modes and the answer to its slot, of 53 functions: 6e-6 off at the slot up to 5 kHz (measured)."""
    face = gap_by_width(V, lambda s: np.interp(s, [0, 30e-3], [0.4e-3, 0.7e-3]))
    whole = thin_chamber(cut_gap(face, [SlotMouth(5e-3, 0.6e-3)]))
    few, w = on_modes(whole, 20), 2 * np.pi * np.geomspace(100, 5e3, 8)
    held, own = (x.slots.T @ x.stiffness(AIR, w, network_of(x, AIR, w)) @ x.slots for x in (whole, few))
    np.testing.assert_allclose(own, held, rtol=1e-5)


def test_one_on_the_face_is_the_swept_volume():
    chamber = chamber_of(V, [SlotMouth(5e-3, 0.6e-3)])
    area = np.pi * (V[-1, 0] ** 2 - V[0, 0] ** 2)
    assert even_flow(chamber, V).sum() == pytest.approx(area, rel=1e-12)
    modes = on_modes(chamber, 20)
    constant = np.linalg.lstsq(modes.patterns, np.ones(len(modes.patterns)), rcond=None)[0]
    assert even_flow(modes, V) @ constant == pytest.approx(area, rel=1e-9)


def test_a_gap_is_as_wide_at_both_ends_as_it_is_told():
    """From 0.3 mm at the inner end of a flat face to 0.7 mm at the outer one."""
    flat = np.array(((10.0, 0.0), (20.0, 0.0))) * 1e-3
    line = cut_gap(gap_by_width(flat, lambda s: 0.3e-3 + 0.04 * s))
    assert line.width[[0, -1], [0, 1]] == pytest.approx([0.3e-3, 0.7e-3], rel=1e-12)


def test_of_a_plug_that_folds_back_the_nearer_side_bounds_the_gap():
    flat = np.array(((10.0, 0.0), (20.0, 0.0))) * 1e-3
    plug = np.array(((9.0, 0.5), (21.0, 0.5), (21.0, 2.0), (9.0, 2.0))) * 1e-3
    assert gap_to_plug(flat, plug).width == pytest.approx(0.5e-3, rel=1e-12)


def test_the_corner_of_a_gap_takes_half_of_a_short_flank_at_most():
    """g/2 tan(theta/2) on either flank: 0.4 mm at a right angle of a gap of 0.8 mm, of a middle line whose first flank
    is but 0.4 mm long 0.2 mm."""
    face = gap_by_width(np.array(((12.0, 0.8), (12.0, 0.0), (20.0, 0.0))) * 1e-3, even(0.8e-3))
    corner = face.place[1]
    near = cut_gap(face).vertex - corner
    assert corner == pytest.approx(0.4e-3, rel=1e-9)
    assert np.abs(near + 0.2e-3).min() < 1e-12 and np.abs(near - 0.4e-3).min() < 1e-12


@pytest.mark.parametrize("radius", [2e-3, 8e-3, 30e-3])
def test_chords_of_a_face_stay_within_a_fiftieth_of_the_gap(radius):
    """Sagitta l^2/(8 R) of each chord, and none turns by more than 15 degrees."""
    points = face_points([Arc((radius, 0.0), radius, np.pi, -1.0)], 0.5e-3)
    chord = np.linalg.norm(np.diff(points, axis=0), axis=1)
    assert chord.max() ** 2 / (8 * radius) < 1.01 * 0.02 * 0.5e-3
    assert chord.max() < 1.01 * np.radians(15) * radius


def test_low_down_the_chamber_is_one_of_even_pressure():
    """p = a (i omega u)/(Y + i omega V_g/kappa): the plain formula of a closed volume with slots."""
    chamber = chamber_of(V, [SlotMouth(5e-3, 0.6e-3), SlotMouth(20e-3, 0.6e-3)])
    air, w = AIR.lossless, 2 * np.pi * np.array([5.0, 10.0])
    network = network_of(chamber, air, w)
    flow = even_flow(chamber, V)
    force = flow @ (chamber.stiffness(air, w, network) @ flow).T / (1j * w)
    one = np.ones(len(flow))
    closed = network.admittance.sum(axis=(1, 2)) + 1j * w * (one @ chamber.volume.sum(axis=0) @ one) / air.bulk_modulus
    off = np.abs(force * closed / flow.sum() ** 2 - 1)
    assert off[1] < 1e-3 and off[0] == pytest.approx(off[1] / 2, rel=1e-2)  # the gap's inertance, first order in omega


def test_the_short_way_over_modes_is_the_plain_inverse():
    chamber = on_modes(chamber_of(V, [SlotMouth(5e-3, 0.6e-3), SlotMouth(20e-3, 0.6e-3)]), 20)
    network = network_of(chamber, AIR, W)
    plain = 1j * W[:, None, None] * np.linalg.inv(chamber.air_matrix(AIR, W, network))
    quick = chamber.stiffness(AIR, W, network)
    assert np.abs(quick - plain).max() < 1e-9 * np.abs(plain).max()


def test_an_uneven_gap_tends_to_the_even_one():
    slots = [SlotMouth(5e-3, 0.6e-3)]
    face = gap_by_width(V, lambda s: 0.5e-3 + 1e-5 * s)  # 0.25 um over 25 mm
    wedge, plain = (thin_chamber(cut_gap(x, slots)) for x in (face, gap_by_width(V, even(0.5e-3))))
    assert len(wedge.width) > 1 and len(plain.width) == 1
    found = [even_flow(c, V) @ (c.stiffness(AIR, W, network_of(c, AIR, W)) @ even_flow(c, V)).T for c in (wedge, plain)]
    assert found[0] == pytest.approx(found[1], rel=3e-3)


def test_a_gap_that_widens_near_by_resists_creeping_flow_as_it_should():
    """Integral of 12 mu ds/(2 pi r g^3), Reynolds, Phil. Trans. 177 (1886) 157 (from memory); 0.8 % measured. Elements
    of 2.5 mm, their air that of their mean width, were 16 % off."""
    wide = np.array([0.13e-3, 0.63e-3])
    face = gap_by_width(np.array([[10e-3, 0.0], [18e-3, 0.0]]), lambda s: np.interp(s, (0, 8e-3), wide))
    chamber, w = thin_chamber(cut_gap(face)), np.array([0.1])
    flow = np.einsum("g,gab->ab", chamber.factors(AIR, w)[0][0].real, chamber.conductance)
    through = np.zeros(len(flow))
    through[[0, -1]] = 1, -1
    pressure = np.linalg.lstsq(flow, through, rcond=None)[0]
    s = (np.arange(20_000) + 0.5) / 20_000 * face.place[-1]
    r, g = np.interp(s, face.place, face.middle[:, 0]), np.interp(s, face.place, face.width)
    exact = (12 * AIR.viscosity / (2 * np.pi * r * g**3)).mean() * face.place[-1]
    assert pressure @ through == pytest.approx(exact, rel=0.01)


def test_power_into_the_chamber_is_lost_in_gap_and_channels_or_leaves():
    chamber = on_modes(chamber_of(V, [SlotMouth(5e-3, 0.6e-3), SlotMouth(20e-3, 0.6e-3)]), 20)
    network = network_of(chamber, AIR, W)
    stiffness, flow = chamber.stiffness(AIR, W, network), even_flow(chamber, V)
    pressure = stiffness @ flow
    entering = stored_away(stiffness, np.broadcast_to(flow.astype(complex), pressure.shape), W)
    channels, leaving = in_channels(network, pressure @ chamber.slots)
    gap = in_gap(chamber, AIR, W, pressure)
    assert gap + channels + leaving == pytest.approx(entering, rel=1e-9)
    assert np.all(gap > 0) and np.all(channels > 0) and np.all(leaving > 0)


def test_an_even_channel_of_its_own_area_has_the_loss_of_its_own_width():
    """Half the slot's area all along: a slit of half its width (Stinson 1991), and one that narrows by a hair."""
    plug, area = Plug(None, None, (), np.array([[0.0, 1.0]]), np.array([0.02])), 2 * np.pi * 0.02 * 0.4e-3
    slot = Slot(0.02, 0.8e-3, 10e-3, areas=(area, area), direction="axial")
    found = channel_line(plug, slot, 0, AIR, W, 0.0, 10e-3)
    assert found == pytest.approx(cylinder(slit(AIR, 0.4e-3, W), area, 10e-3), rel=1e-9)
    hair = Slot(0.02, 0.8e-3, 10e-3, areas=(area, 0.9999 * area), direction="axial")
    assert channel_line(plug, hair, 0, AIR, W, 0.0, 10e-3) == pytest.approx(found, rel=1e-3)


def test_a_channel_widens_as_its_walls_run_straight():
    """Half-way between two areas is their mean: a ring slot of straight walls about one radius."""
    plug = Plug(None, None, (), np.array([[0.0, 1.0]]), np.array([0.02]))
    slot = Slot(0.02, 0.8e-3, 10e-3, areas=(1e-4, 3e-4), direction="axial")
    assert channel_area(plug, slot, 0, np.array([2.5e-3, 5e-3])) == pytest.approx([1.5e-4, 2e-4])


def test_stretches_of_a_channel_are_the_channel():
    """One that widens threefold, cut at a third: 20 cones against 7 and 13."""
    plug = Plug(None, None, (), np.array([[0.0, 1.0]]), np.array([0.02]))
    slot = Slot(0.02, 0.8e-3, 9e-3, areas=(1e-4, 3e-4), direction="axial")
    begin, rest, whole = (channel_line(plug, slot, 0, AIR, W, *ends) for ends in ((0, 3e-3), (3e-3, 9e-3), (0, 9e-3)))
    np.testing.assert_allclose(begin @ rest, whole, rtol=1e-3)


def test_lossless_lengths_scale():
    """All lengths twice, frequencies half: the same force over rho c S."""
    found = []
    for size in (1.0, 2.0):
        w, air = W / size, AIR.lossless
        face = gap_by_width(V * size, even(0.5e-3 * size))
        chamber = thin_chamber(cut_gap(face, [SlotMouth(5e-3 * size, 0.6e-3 * size)], 2.5e-3 * size))
        area = 2 * np.pi * chamber.line.slot_radius * 0.6e-3 * size
        channels = [cylinder(slit(air, 1e-3, w), s, 8e-3 * size) for s in area]
        network = join(channels, matched(air, 4e-4 * size**2, w))
        flow = even_flow(chamber, V * size)
        found.append(flow @ (chamber.stiffness(air, w, network) @ flow).T / w / size**2)
    assert found[1] == pytest.approx(found[0], rel=1e-10)


def test_the_corrections_have_their_limits():
    assert bend(np.pi / 2) == pytest.approx(1 - 2 / np.pi * np.log(2), rel=1e-12)
    assert bend(1e-4) / np.tan(0.5e-4) == pytest.approx(1, rel=1e-3)  # a gentle bend conducts as a straight gap
    assert abs(slot_through_flow(1e-3)) < 1e-5
    assert slot_inflow(0.01) == pytest.approx(-2 / np.pi * np.log(4 * 0.01) + 2 / np.pi - 0.01, rel=1e-2)


STEP = [
    (15.5, 7.8),
    (18.0, 4.38),
    (18.68, 4.38),
    (18.73, 4.373),
    (18.79, 4.354),
    (18.83, 4.323),
    (18.87, 4.28),
    (22, 0),
]


@pytest.mark.parametrize("width", [0.3e-3, 0.6e-3])
def test_a_gap_over_a_step_resists_as_plane_potential_flow_does(width):
    """A tread of 0.7 mm between a corner of 54 degrees and a rounding of 0.2 mm that turns back, far from the axis, by
    biquadratic elements of Laplace's equation. Bends that knew of no rounding left 0.056 of a width."""
    gap = gap_by_width(np.array(STEP) * 1e-3 + np.array((10.0, 0.0)), even(width))
    line, section = cut_gap(gap), cut_gap_section(gap, [], [])
    mesh = MeshQuad(section.points, section.cells, sort_t=False, validate=False)
    basis = Basis(mesh, ElementQuad2(), intorder=5)
    flow = laplace.assemble(basis)
    ends = []
    for k in (0, -1):
        across = gap.plug[k] - gap.face[k]
        aside = basis.doflocs.T - gap.face[k]
        ends.append(np.flatnonzero(np.abs(aside[:, 0] * across[1] - aside[:, 1] * across[0]) < 1e-9 * width))
    potential = np.zeros(basis.N)
    potential[ends[0]] = 1.0
    found = solve(*condense(flow, np.zeros(basis.N), x=potential, D=np.concatenate(ends)))
    resists = (np.diff(line.vertex) / line.width.mean(axis=1) / conduction(line)).sum()
    assert resists == pytest.approx(1 / (found @ flow @ found), abs=0.004)


def test_what_a_bend_resists_less_lies_where_the_middle_line_turns():
    """A sharp corner of 60 degrees is g tan(30 degrees) long on the middle line: to both sides of it what it resists
    less is taken off evenly, and nowhere else."""
    g = 0.5e-3
    corner = np.array(((0.0, 0.0), (6.0, 0.0), (9.0, 3 * np.sqrt(3)))) * 1e-3 + np.array((0.2, 0.0))
    whole = cut_gap(gap_by_width(corner, even(g)))
    vertex = np.interp(np.arange(0, len(whole.vertex) - 0.9, 0.1), np.arange(len(whole.vertex)), whole.vertex)
    line = replace(whole, vertex=vertex, width=np.full((len(vertex) - 1, 2), g))  # in tenths of its elements
    (place, turn), length = line.bend[0], np.diff(line.vertex)
    assert len(line.bend) == 1 and abs(turn) == pytest.approx(np.pi / 3, rel=1e-6)
    ends = place + np.array((-1, 1)) * g / 2 * np.tan(np.pi / 6)
    over = np.maximum(np.minimum(ends[1], line.vertex[1:]) - np.maximum(ends[0], line.vertex[:-1]), 0)
    less = (1 - 1 / conduction(line)) * length / g
    assert less == pytest.approx((np.tan(np.pi / 6) - bend(np.pi / 3)) * over / np.diff(ends), abs=1e-9)
    assert np.count_nonzero(over) > 4


def test_a_gap_between_circles_resists_as_their_potential_says():
    """ln r between radii of 8 and 9 widths over a whole turn: theta/ln(9/8), by chords of half a degree, whose polygon
    is 3e-4 longer. The straight gaps that lie before and behind for a strip's h are 1 % of it."""
    turn, middle = np.full(720, np.pi / 360), 8.5
    apart = middle * np.pi / 360 * np.abs(np.arange(720)[:, None] - np.arange(720))
    less = 2 * np.pi * (middle - 1 / np.log(9 / 8))
    assert relief(turn, apart).sum() == pytest.approx(less, rel=0.02)


@pytest.mark.parametrize("length", [16e-3, 4e-3])
def test_the_air_a_wave_moves_across_a_gap_is_that_before_a_plane(length):
    """Velocity potential cosh q(y - g) of a wavy wall and a plane one (Lamb, Hydrodynamics): at the wall the pressure
    is i omega rho v coth(q g)/q, its mean over the gap i omega rho v/(q^2 g)."""
    g, q, s = 0.5e-3, 2 * np.pi / length, 20e-3 + 4e-6 * (np.arange(8000) + 0.5)
    ring, step = 2 * np.pi * s, np.full(len(s), 4e-6)
    face = Face(np.stack((s, 0 * s), axis=1), s - 20e-3, step, (ring * step * np.sin(q * (s - 20e-3)))[:, None])
    line = cut_gap(gap_by_width(np.array(((20e-3, 0.0), (52e-3, 0.0))), even(g)), [SlotMouth(16e-3, 0.6e-3)])
    exact = AIR.density * (1 / np.tanh(q * g) / q - 1 / (q**2 * g)) * np.pi * (52e-3**2 - 20e-3**2) / 2
    place = line.place_of(face.point)
    found = face_air(line, place, AIR.density, face)
    # less by (q g)^2/15, said where it stands
    assert found.mass.matrix[0, 0] == pytest.approx(exact, rel=(q * g) ** 2 / 12)
    still = face_air(line, place, AIR.density, Face(face.point, face.place, step, (ring * step)[:, None]))
    few = np.array((0, 7999))  # 32 widths of the gap from the slot on either side, where exp(-32^2) is nothing
    coarse = Face(face.point[few], face.place[few], step[few], (ring * step)[few, None])
    assert face_air(line, place[few], AIR.density, coarse).pattern == pytest.approx(1.0)
    assert still.pattern == pytest.approx(1.0) and still.mouths == pytest.approx(AIR.density * g * slot_excess(0.6))


def flow_into_a_slot(n, cells=120):
    """Places (C,), widths and flow of cells of the mouth of a deep slot in the wall of a strip one wide.

    The potential of a source in the wall of a strip is ln|2 sinh(pi x/2)|/pi, of the flow in a slot of the width w a
    sum of cos(2 pi k x/w); both agree but for a constant.
    """
    edge = -n * np.cos(np.pi * np.arange(cells + 1) / cells)
    x, d = (edge[1:] + edge[:-1]) / 2, np.diff(edge)
    apart, self = x[:, None] - x, np.eye(cells)

    def near(u):
        return u * np.log(np.abs(u)) - u

    log = near(edge[1:] - x[:, None]) - near(edge[:-1] - x[:, None])  # integral of ln|x - x'| over a cell
    strip = np.log(np.abs(2 * np.sinh(np.pi * apart / 2)) + self * np.pi) - np.log(np.abs(apart) + self)
    slot = np.log(np.abs(2 * np.sin(np.pi * apart / (2 * n))) + self * np.pi / n) - np.log(np.abs(apart) + self)
    both = (log + strip * d) / np.pi + ((log + slot * d) + (log + slot * d)[:, ::-1]) / (2 * np.pi)
    whole = np.block([[both, -np.ones((cells, 1))], [d, 0.0]])
    return x, d, np.linalg.solve(whole, np.append(np.zeros(cells), 1.0))[:-1]


@pytest.mark.parametrize("n", [0.2, 0.6, 1.0])
def test_the_pressure_across_from_a_slot_is_that_of_its_flow(n):
    """By the flow at the mouth, with the gap's own slope under the slot 1 + Lambda_t/n of that beside it."""
    x, d, flow = flow_into_a_slot(n)
    square = (x**2 * flow * d).sum()
    dip = (1 - (1 + slot_through_flow(n) / n)) * n**2 / 2
    assert slot_excess(n) == pytest.approx(1 / 6 + square / 2 - dip, abs=3e-4)


def test_small_hollow_fillets_become_sharp_bends_and_large_ones_stay():
    """A 90 degree hollow fillet: the corner of its tangents where its radius is below the gap."""
    first, last = Line((10e-3, 5e-3), (14e-3, 1e-3)), Line((16e-3, 1e-3), (20e-3, 5e-3))
    fillet = Arc((15e-3, 2e-3), np.sqrt(2) * 1e-3, -0.75 * np.pi, 0.5 * np.pi)
    sharp = face_points([first, fillet, last], 2e-3)
    assert np.abs(sharp - np.array((15e-3, 0.0))).sum(axis=1).min() < 1e-12
    assert face_points([first, fillet, last], 1e-3)[:, 1].min() > 0.5e-3
    bowl = Arc((15e-3, 2e-3), 1e-3, -np.pi, np.pi)
    with pytest.raises(MeshError, match="wider than the hollow of the face at r = 14 mm"):
        face_points([Line((10e-3, 2e-3), (14e-3, 2e-3)), bowl], 2e-3)


def test_a_gap_wider_than_a_corner_whose_flank_is_a_short_chord_is_drawn():
    """A dome's corner: chords of 0.2 mm that go down, at 45 to 46 degrees, and a flank that goes up. The chords end in
    the fold of the gap one after another; before each did, a band of widths was refused."""
    chords = np.radians([45.0, 45.6, 46.2])
    ends = np.cumsum(np.vstack(((12.0, 0.7), *(0.2 * np.array((np.cos(a), -np.sin(a))) for a in chords))), axis=0)
    face = 1e-3 * np.vstack(((10.0, 2.7), ends, ends[-1] + 2 * np.array((np.cos(0.87), np.sin(0.87)))))
    long = [gap_by_width(face, even(g)).place[-1] for g in np.linspace(0.05e-3, 0.6e-3, 56)]
    assert np.abs(np.diff(long, 2)).max() < 0.005 * np.ptp(long)  # it shortens alike: a corner less takes 2.3 um of 600


def test_a_plug_drawn_parallel_is_the_even_gap():
    by_width = gap_by_width(V, even(0.5e-3))
    out = by_width.plug.copy()
    out[0] += by_width.plug[0] - by_width.plug[1]
    out[-1] += by_width.plug[-1] - by_width.plug[-2]
    drawn = gap_to_plug(V, out)
    assert drawn.middle == pytest.approx(by_width.middle, abs=1e-9) and drawn.width == pytest.approx(by_width.width)
    with pytest.raises(MeshError, match=r"normal at r = 30 mm.*does not meet it"):
        gap_to_plug(V, by_width.plug[:-1])


@pytest.mark.parametrize("hollow", [1, -1])
def test_the_gap_of_a_dome_begins_on_its_axis(hollow):
    """Between two spheres about one point, V = 2 pi/3 |R^3 - (R - g)^3| (1 - cos a). By its first chord's normal alone
    that of a hollow dome began beyond the axis, and every such dome was refused, a plug of its own as well."""
    turn, gap = np.radians(np.linspace(0, 40, 41)), hollow * 0.5e-3
    face, plug = (size * np.stack((np.sin(turn), -hollow * np.cos(turn)), axis=1) for size in (30e-3, 30e-3 - gap))
    plug = np.vstack((plug, plug[-1] + plug[-1] - plug[-2]))  # of the last chord its normal leans beyond the sphere's
    volume = 2 * np.pi / 3 * abs(30e-3**3 - (30e-3 - gap) ** 3) * (1 - np.cos(turn[-1]))
    for drawn in (gap_by_width(face, even(0.5e-3)), gap_to_plug(face, plug)):  # to (a/2)^2 of a chord
        assert drawn.middle[0] == pytest.approx((0.0, -hollow * (30e-3 - gap / 2)), abs=1e-7)
        chamber = thin_chamber(cut_gap(drawn))
        one = np.ones(chamber.patterns.shape[1])
        assert one @ chamber.volume.sum(axis=0) @ one == pytest.approx(volume, rel=1e-3)  # chords of a degree, (a/2)^2


@pytest.mark.parametrize(
    ("slots", "message"),
    [
        ([SlotMouth(5e-3, 1.2e-3)], "at most 2 times as wide as the gap, received 1.2 mm over a gap of 0.5 mm at r = "),
        ([SlotMouth(0.2e-3, 0.6e-3)], "within the face, received one at r = 12"),
        ([SlotMouth(13.3e-3, 0.6e-3)], r"clear of bends of the gap, received slots\[0\] over one at r = 2"),
        ([SlotMouth(5e-3, 0.6e-3), SlotMouth(5.3e-3, 0.6e-3)], "must not cross, received two that do near r = 15"),
    ],
)
def test_slots_that_cannot_be_cut_are_refused_with_their_place(slots, message):
    with pytest.raises(MeshError, match=message):
        cut_gap(gap_by_width(V, even(0.5e-3)), slots)


def test_a_slot_over_a_bend_is_told_where_it_fits():
    """Both places that the message names, as printed, are taken."""
    gap, slot = gap_by_width(V, even(0.5e-3)), SlotMouth(13.3e-3, 0.6e-3)
    with pytest.raises(MeshError, match="as wide as it is, it fits at r = ") as refused:
        cut_gap(gap, [slot])
    told = [float(r) * 1e-3 for r in re.findall(r"r = ([\d.]+) mm", str(refused.value))[1:]]
    assert len(told) == 2
    line = gap.middle[:, 0]
    for r in told:
        (k,) = np.flatnonzero((line[:-1] - r) * (line[1:] - r) <= 0)
        place = gap.place[k] + (r - line[k]) / (line[k + 1] - line[k]) * (gap.place[k + 1] - gap.place[k])
        cut_gap(gap, [replace(slot, place=place)])


def test_a_plug_of_its_own_leaves_what_is_clear_of_the_wall():
    """A level plug over a flat wall of 90 and then 250 um: half of each is gone, and between them as steep. By half
    its film's thickness more or less of gap a level of the shipped Vs moves by up to 0.8 dB at 18 to 19 kHz."""
    profile = {
        "kind": "free", "r": ["5 mm", "15 mm", "19 mm"], "z": ["0 mm"] * 3, "zone": ["driven", "surround", "surround"],
        "material": ["PEN film", "nitrile rubber", "nitrile rubber"], "thickness": ["90 um", "250 um", "250 um"],
    }  # fmt: skip
    slot = {"radius": "10 mm", "width": "0.8 mm", "channel": {"length": "9 mm", "direction": "axial"}}

    def drawn(z):
        front = {"kind": "thin chamber", "plug": {"r": ["5 mm", "19 mm"], "z": [z] * 2}, "slots": [slot]}
        coil = {"kind": "ring", "diameter": "24 mm", "mass": "0.4 g"}
        data = {"name": "flat", "profile": profile, "coil": coil, "edges": {"inner": "clamped", "outer": "clamped"}}
        design = design_from({**data, "front": front, "exit": {"diameter": "20 mm"}}, allow_unusual=True)
        return draw_plug(design, design.driver.front).face

    gap = drawn("0.6 mm")
    r = 1e-3 * np.array([5.0, 14.96, 15.0, 15.04, 19.0])
    assert np.interp(r, gap.face[:, 0], gap.width) == pytest.approx([555e-6, 555e-6, 515e-6, 475e-6, 475e-6], abs=1e-9)
    with pytest.raises(MeshError, match=r"must lie before the wall, whose front is 125 um before its middle"):
        drawn("0.1 mm")


def test_every_slot_over_a_bend_is_told_at_once():
    """One at a time a plug of three took three runs."""
    mouths = [SlotMouth(5e-3, 0.6e-3), SlotMouth(13.2e-3, 0.2e-3), SlotMouth(13.45e-3, 0.2e-3)]
    with pytest.raises(MeshError, match=r"slots\[1\] over one at .*; slots\[2\] over one at"):
        cut_gap(gap_by_width(V, even(0.5e-3)), mouths)


def test_a_gap_that_folds_is_told_how_wide_it_may_be():
    """What the message names is taken, and a tenth more is not."""
    wide = design_from(driver_data("straight_v", front__gap="20 mm"))
    with pytest.raises(MeshError, match=r"a gap of [\d.]+ mm would fit") as refused:
        draw_plug(wide, replace(wide.driver.front, slots=()))
    (told,) = re.findall(r"a gap of ([\d.]+) mm would fit", str(refused.value))
    fits = replace(wide.driver.front, slots=(), gap_width=(1e-3 * float(told),))
    assert draw_plug(wide, fits).face.width.max() == pytest.approx(1e-3 * float(told))
    with pytest.raises(MeshError):
        draw_plug(wide, replace(fits, gap_width=(1.1e-3 * float(told),)))


def test_folded_gaps_are_refused_with_their_place():
    narrow = np.array(((10.0, 0.0), (11.0, 0.0), (11.0, -1.0), (12.0, -1.0), (12.0, 0.0), (13.0, 0.0))) * 1e-3
    with pytest.raises(MeshError, match=r"folds over itself near r = 11"):
        gap_by_width(narrow, even(0.8e-3))


def test_a_gap_whose_middle_would_pass_the_axis_is_refused():
    """The normal of a face that rises outward leans inward."""
    face = np.array(((0.5, 0.0), (9.5, 9.0))) * 1e-3
    assert gap_by_width(face, even(1.3e-3)).middle[0, 0] > 0
    with pytest.raises(MeshError, match="the middle of the gap must not pass the axis; draw the plug as a contour"):
        gap_by_width(face, even(1.5e-3))


def test_kinks_made_one_leave_none_of_them_farther_off_than_half_of_the_gap():
    """Five kinks of 25 degrees toward the gap g, pieces c between: the plug folds across from them where c < 2 g
    tan(12.5 degrees), and the third lies c (sin 25 + sin 50 degrees) off the flanks of the corner made (triangles)."""
    turn, gap = np.radians(25.0), 0.5e-3
    most = gap / 2 / (np.sin(turn) + np.sin(2 * turn))

    def drawn(c):
        length, angle = np.array((0.0, 5e-3, c, c, c, c, 5e-3)), turn * np.arange(-1, 6)
        steps = length[:, None] * np.stack((np.cos(angle), np.sin(angle)), axis=1)
        return gap_by_width(np.cumsum(steps, axis=0) + np.array((20e-3, 0.0)), even(gap))

    assert len(drawn(0.98 * most).face) == 3
    with pytest.raises(MeshError, match="folds over itself"):
        drawn(1.02 * most)


@pytest.mark.parametrize("backward", [False, True])
def test_kinks_whose_flanks_meet_off_either_of_them_stay_two(backward):
    """The second flank's line meets the first's before that begins; where it meets it within, there is a corner."""
    chain = np.array(((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (3.0, 2.0)))
    way = slice(None, None, -1 if backward else 1)
    assert _merged(chain[way], 1, 3.0) is None
    chain[3] = 3.0, 1.0  # alongside the first
    assert _merged(chain[way], 1, 3.0) is None
    chain[3] = 2.0, 4.0  # from (1, 1) upward by 3: meets the first flank at 2/3
    assert _merged(chain[way], 1, 3.0)[1] == pytest.approx((2 / 3, 0.0))


def test_the_second_opinion_converges():
    """Cells of half the size: closer to the finest."""
    rough, fine, finest = (v_in_two_dimensions(0.6, size).slot_end for size in (12e-5, 6e-5, 1.5e-5))
    assert np.abs(fine - finest).max() < 0.5 * np.abs(rough - finest).max()


@pytest.mark.parametrize("flank", [0, 1])
def test_the_second_opinions_slots_begin_across_from_their_centres(flank):
    """On either flank of a kink, beyond which plug and face do not begin across from one another: half a gap and the
    slot's depth along the normal."""
    face = gap_by_width(np.array(((8e-3, 4e-3), (12e-3, 0.0), (16e-3, 4e-3))), even(0.5e-3))
    place = 2.2e-3 if flank == 0 else face.place[-1] - 2.2e-3
    section = cut_gap_section(face, [SlotMouth(place, 0.6e-3)], [2e-3])
    tips = section.points[:, section.ends[0][[0, 1], [0, -1]]].T
    centre = np.array([np.interp(place, face.place, x) for x in face.middle.T])
    assert tips.mean(axis=0) == pytest.approx(centre + 2.25e-3 * np.array((1 - 2.0 * flank, 1.0)) / np.sqrt(2))
    assert np.linalg.norm(tips[1] - tips[0]) == pytest.approx(0.6e-3)


def test_the_second_opinion_cuts_the_whole_gap():
    face = flat_face(5e-3, 20e-3, 0.5e-3)
    section = cut_gap_section(face, [SlotMouth(6e-3, 0.6e-3)], [2e-3])
    corner = section.points[:, section.cells]
    x, z = corner - corner[:, :1]
    area = 0.5 * np.abs(x[1] * z[2] - x[2] * z[1]) + 0.5 * np.abs(x[2] * z[3] - x[3] * z[2])
    assert area.sum() == pytest.approx(15e-3 * 0.5e-3 + 0.6e-3 * 2e-3, rel=1e-9)


def test_the_pressure_on_the_face_is_read_where_each_point_lies():
    """One that goes with r^2, as biquadratic elements hold exactly, from one end of the face to the other."""
    section = cut_gap_section(flat_face(5e-3, 20e-3, 0.5e-3), [SlotMouth(6e-3, 0.6e-3)], [2e-3])
    basis = Basis(MeshQuad(section.points, section.cells, sort_t=False, validate=False), ElementQuad2())
    place = np.linspace(0, 1, 200)
    read = section_air(section).trace(place) @ basis.doflocs[0] ** 2
    np.testing.assert_allclose(read, (5e-3 + 15e-3 * place) ** 2, rtol=1e-9)


def test_air_before_steep_flanks_is_made():
    """Of six Vs of 30 to 80 mm one ended in a traceback: rounding of such heights is more than 1e-12 of a small cell.
    What an even motion sweeps is the ring's area."""
    for height in np.linspace(30e-3, 80e-3, 6):
        face = gap_by_width(np.array(((15e-3, height), (22e-3, 0.0), (29e-3, height))), even(0.5e-3))
        swept = section_air(cut_gap_section(face, [SlotMouth(5e-3, 0.6e-3)], [2e-3])).axial.sum()
        assert abs(swept) == pytest.approx(np.pi * (29e-3**2 - 15e-3**2), rel=1e-9)


def test_a_table_of_even_widths_is_a_plain_gap():
    """Every table of widths ended a driver with a traceback: a knot on a straight stretch was a bend of no angle, over
    whose extent of nothing its relief was shared out. A slot may lie over it as well."""
    knots = ["0 mm", "2 mm", "5 mm", "8 mm"]
    plain, table = (
        driver_data(**{"front.gap": gap}) for gap in ("0.6 mm", {"distance": knots, "width": ["0.6 mm"] * 4})
    )
    f = np.geomspace(200.0, 5e3, 12)
    one, other = (driver_curve(load_design_on(design_from(data), up_to_hz=5e3), f).level_db for data in (plain, table))
    assert other == pytest.approx(one, abs=1e-3)  # elements are cut at the knots besides
