"""Rings that move far: strains of turned triads, motions that strain none, and the drawn shape at rest."""

from dataclasses import replace

import numpy as np
import pytest
from places import STUDIES
from scipy.spatial.transform import Rotation

from diaphragm_fem.design.design import Ring
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.model.large_stroke.about_state import structure_about
from diaphragm_fem.model.large_stroke.bent_rings import BentRings, Owner
from diaphragm_fem.model.large_stroke.bent_shell import BentShell
from diaphragm_fem.model.law import ONE
from diaphragm_fem.model.shell.numbering import B, U
from diaphragm_fem.model.shell.shell import build_shell

R, OUT, TURNED = 0.9, 0.4, 0.7  # drawn radius, and how far and by what angle the state moved


def one_ring(moments):
    rings = BentRings([Owner(0, ONE, "")], *(np.array(x) for x in ([0], [0], [R], [moments], [1.0], [1.0])))
    raw = np.zeros((5, 1))
    raw[[U, B], 0] = OUT, TURNED
    return rings, raw


def strains_of_triads(m, motion):
    """e, k_r, k_z and twist (4, 128) around a circle moved to R + OUT, turned by TURNED and then by u, v, w, b of order
    m, from triads whose vector of rotation has b about the circle and whose first axis goes along it."""
    theta = np.arange(128) * 2 * np.pi / 128
    cos, sin, none = np.cos(m * theta), np.sin(m * theta), 0 * theta
    u, v, w, b = motion[:, None] * np.stack((cos, sin, cos, cos))
    out, up = np.stack((np.cos(theta), np.sin(theta), none)), np.stack((none, none, none + 1))
    round_ = np.stack((-np.sin(theta), np.cos(theta), none))
    slope = along((R + OUT + u) * out + v * round_ + w * up)
    length = np.linalg.norm(slope, axis=0)
    d1, vector = slope / length, b * round_
    for _ in range(60):
        off = d1 - Rotation.from_rotvec(vector.T).apply(round_.T).T
        vector = vector + np.cross(round_, off, axis=0)
        vector += (b - (vector * round_).sum(axis=0)) * round_
    c, s = np.cos(TURNED), np.sin(TURNED)
    d2, d3 = (Rotation.from_rotvec(vector.T).apply(x.T).T for x in (c * out - s * up, s * out + c * up))
    k_r, k_z = ((along(d) * d1).sum(axis=0) for d in (d2, d3))
    return np.stack((length / R - 1, (k_r - length / R) / R, k_z / R, (along(d2) * d3).sum(axis=0) / R)), cos, sin


def along(values):
    """d/d theta of periodic values (3, N)."""
    return np.fft.irfft(1j * np.arange(values.shape[1] // 2 + 1) * np.fft.rfft(values), values.shape[1])


@pytest.mark.parametrize("m", [0, 1, 2, 5])
def test_strains_are_those_of_turned_triads(m):
    """By central differences: first order the part that goes by cos(m theta), second order the mean."""
    rings, raw = one_ring(np.eye(3))
    motion = np.array([0.3, -0.5 * (m > 0), 0.4, 0.7])
    step = 1e-4
    (plus, cos, sin), (minus, *_), (state, *_) = (strains_of_triads(m, x * motion) for x in (step, -step, 0.0))
    if m:
        twisted = (plus - minus)[3] @ sin / (sin @ sin) / (2 * step)
        assert np.abs(state[3]).max() < 1e-12
        assert twisted == pytest.approx(rings._twisted(raw, m)[0] @ motion, abs=1e-7)
    plus, minus, state = plus[:3], minus[:3], state[:3]
    first, second = rings._about(raw, m)
    own = motion[motion != 0]
    assert state[:, 0] == pytest.approx(rings.strain(raw)[0], abs=1e-12)
    told = (plus - minus) @ cos / (cos @ cos) / (2 * step)
    assert told == pytest.approx(first[0] @ own, abs=1e-7)
    mean = (plus + minus - 2 * state).mean(axis=1) / step**2
    assert mean == pytest.approx(own @ second[0] @ own * (cos @ cos) / len(cos), abs=1e-6)


def test_a_turn_of_the_whole_strains_no_ring():
    """To rounding, in any state: a shift neither to first nor to second order; a turn by e about a diameter at the
    height z moves by e (z, -z, -r, 1) of m = 1 and by -e^2 (r/4, z/2) on the mean, which cancel to second order."""
    rings, raw = one_ring(np.eye(3))
    (first, second), (even, _) = ((x[0] for x in rings._about(raw, m)) for m in (1, 0))
    r, z = R + OUT, 0.8
    for motion, mean in (((1, -1, 0, 0), (0, 0, 0)), ((z, -z, -r, 1), (-r / 4, -z / 2, 0))):
        moved = np.array(motion)
        assert first @ moved == pytest.approx(0.0, abs=1e-15)
        assert moved @ second @ moved / 4 + even @ mean == pytest.approx(0.0, abs=1e-15)
        assert rings._twisted(raw, 1)[0] @ moved == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize("m", range(4))
def test_at_rest_glue_and_a_plain_ring_are_those_of_the_drawn_shape(m):
    glued = {"coil.fillet.radius": "0.3 mm", "coil.fillet.material": "aluminium alloy"}
    design = load_design(STUDIES / "metal_dome.toml", glued)
    shell = BentShell(build_shell(replace(design, ring=Ring(1e-4, 300.0)), up_to_hz=5e3, corrected=True))
    assert {own.made_of for own in shell.rings.owners} >= {"glue", "ring"}
    about, drawn = structure_about(shell, np.zeros(shell.size), m).stiffness, shell.model.structure(m).stiffness
    assert abs(about - drawn).max() < 5e-10 * abs(drawn).max()


def test_a_material_that_is_called_glue_is_a_wall_like_any_other():
    """Its walls were counted twice, once bent and once as drawn: 17.8 instead of 9.1 N/mm."""
    named = {"profile.surround.material": "glue", "materials.glue.based_on": "treated silk"}
    shell = BentShell(build_shell(load_design(STUDIES / "metal_dome.toml", named), up_to_hz=5e3, corrected=True))
    drawn = shell.model.structure(0).stiffness
    assert abs(shell.tangent(np.zeros(shell.size)) - drawn).max() < 1e-10 * abs(drawn).max()
