"""What a joint yields over a range of proportions, from functions of two proportions written down here."""

from dataclasses import replace

import numpy as np
import pytest
from forgotten_joints import forget

from diaphragm_fem.model.joint import kinds as joint_kinds
from diaphragm_fem.model.joint.kinds import read_over
from diaphragm_fem.model.joint.patch import Excess
from diaphragm_fem.model.joint.range import joint_range, sort_of
from diaphragm_fem.model.joint.table import STEP, Key

RATIO, MODULUS = 0.4, -5.0  # logs of the second arm's thickness and modulus by the first's, about which they scatter


def key_of(ratio=RATIO, modulus=MODULUS, turn=0.3):
    numbers = (0, 0, turn, 0, 0, ratio, modulus, 0, 0, 0)
    return Key((1, 1), tuple(round(x / STEP) for x in numbers), (0.4, 0.48))


def smooth(key, jump=0.0):
    ratio, modulus = (STEP * key.points[k] for k in (5, 6))
    f = np.exp(0.8 * ratio) * (1 + 0.3 * np.sin(0.5 * modulus)) + jump * (ratio > RATIO)
    plane = np.multiply.outer([1.0, 2.0], np.diag([f, 0.5 * f * f, 1e6 / f]))
    section = np.multiply.outer([1.0, -1.0], f * np.array([1e-6, 1e-9, 1e-9, 1e-12, 1e-12, 1e-12]))
    return Excess(plane, f * np.ones((2, 1, 1)), section, f * np.array([1e-12, -1e-12]), np.array([1e-6 * f]))


def range_of(function=smooth, count=48):
    places = np.random.default_rng(3).uniform(-1, 1, (count, 2))
    keys = [key_of(RATIO + 0.25 * x, MODULUS + 0.35 * y) for x, y in places.tolist()]
    return joint_range(sort_of(keys[0]), [(key, function(key)) for key in keys])


@pytest.mark.parametrize(("ratio", "modulus"), [(0.4, -5.0), (0.27, -4.9), (0.5, -5.2)])
def test_a_smooth_joint_is_read_between(ratio, modulus):
    key = key_of(ratio, modulus)
    for read, there in zip(range_of().read(key), smooth(key), strict=True):
        assert read == pytest.approx(there, rel=2e-5, abs=1e-20)  # measured 5e-6: the seventh power and beyond


OUTSIDE = {"thick": (0.9,), "soft": (RATIO, -6.0), "turned": (RATIO, MODULUS, 0.4), "corner": (0.625, -5.315)}


@pytest.mark.parametrize("key", [key_of(*own) for own in OUTSIDE.values()], ids=OUTSIDE)
def test_nothing_is_read_outside(key):
    assert range_of().read(key) is None


def test_of_patches_that_scatter_the_degree_is_taken_that_tells_the_next_one_best():
    """Twelve along a line, by turns a hundredth above and below it: what is left at the patches themselves is the less
    the higher the degree, what each is off when the others alone are asked is least by the line."""
    keys = [key_of(RATIO + 0.25 * x) for x in np.linspace(-1, 1, 12).tolist()]
    heights = [1 + 0.2 * STEP * key.points[5] + 1e-2 * (-1) ** k for k, key in enumerate(keys)]
    ones = np.ones((2, 3, 3)), np.ones((2, 1, 1)), 1e-6 * np.ones((2, 6)), 1e-12 * np.ones(2), 1e-6 * np.ones(1)
    like = Excess(*ones)
    found = joint_range(
        sort_of(keys[0]), [(k, Excess(*(f * x for x in like))) for k, f in zip(keys, heights, strict=True)]
    )
    assert found.exponents.max() == 1


def test_a_joint_that_jumps_has_no_range():
    assert range_of(lambda key: smooth(key, jump=0.2)) is None


def test_a_few_patches_make_no_range_of_a_curve():
    assert range_of(count=8) is None


@pytest.mark.parametrize(("ratio", "sort"), [(0.4, (-1,)), (-0.4, (1,)), (0.0, (0,)), (0.05, None), (-0.05, None)])
def test_walls_nearly_as_thick_as_one_another_are_of_no_sort(ratio, sort):
    found = sort_of(key_of(ratio))
    assert (found and found[2]) == sort


def test_a_laminate_is_as_thick_as_its_layers():
    points = (0, 0, 0, 0, *(0, 0, 0, 0, 0, 0), *(int(np.log(0.7) / STEP), 0, 0, 0, 0))
    assert sort_of(Key((2, 1), points, (0.4, 0.4, 0.3)))[2] == (1,)


def test_ranges_go_before_patches(monkeypatch):
    """Whether or not the patch of a joint is known: what was solved before must not change an answer."""
    forget()
    monkeypatch.setattr(joint_kinds, "_patch", smooth)
    inside, outside = key_of(0.41), key_of(0.9)
    joint_kinds.patch_of_key(inside)
    wrong = replace(range_of(), weights=0 * range_of().weights)
    read_over([wrong])
    assert not joint_kinds._read(inside).plane.any() and joint_kinds._read(outside).plane.any()
    assert joint_kinds.patch_of_key(inside).plane.any()
    read_over(())
    assert joint_kinds._read(inside).plane.any()
    forget()
