"""What is parted among arms stays positive and adds up; springs are what condensing says."""

import numpy as np
import pytest

from diaphragm_fem.model.joint_shares import STIFFEST, parted, shared
from diaphragm_fem.model.joint_springs import spring_changes, together

RNG = np.random.default_rng(3)


def positive(*shape: int) -> np.ndarray:
    root = RNG.normal(size=(*shape, shape[-1]))
    return root @ root.swapaxes(-1, -2) + 0.1 * np.eye(shape[-1])


def lowest(matrices: np.ndarray) -> float:
    return float((np.linalg.eigvalsh(matrices)[..., 0] / np.abs(matrices).max(axis=(-1, -2))).min())


def test_shares_are_positive_and_add_up():
    total = np.array([[2.0, 0.5, 0.0]])
    wanted = RNG.normal(size=(1, 2, 3, 3))
    wanted[:, 0] += wanted[:, 0].swapaxes(-1, -2)
    wanted[:, 1] = np.diag(total[0]) - wanted[:, 0]
    assert lowest(wanted) < -0.1  # so that there is something to hold
    found = shared(wanted, total)
    assert found.sum(axis=1)[0] == pytest.approx(np.diag(total[0]), abs=1e-12)
    assert lowest(found) > -1e-14


def test_shares_that_are_positive_stay_as_they_are():
    parts = positive(1, 3, 4)
    level, axes = np.linalg.eigh(parts.sum(axis=1)[0])
    parts = axes.T @ parts @ axes
    assert shared(parts, level[None]) == pytest.approx(parts, rel=1e-10, abs=1e-12)


def test_an_excess_is_parted_into_stiffer_and_softer():
    """With springs for what is softer and gains for what is stiffer the whole gives way by S + C."""
    soft = positive(5, 2, 6)
    excess = 0.3 * (positive(5, 2, 6) - positive(5, 2, 6))
    gain, springs = parted(excess, soft)
    assert lowest(gain) > -1e-13 and lowest(springs) > -1e-13
    stiffness = np.linalg.inv(soft.sum(axis=1)) + gain.sum(axis=1)
    whole = np.linalg.inv(stiffness) + springs.sum(axis=1)
    wanted = soft.sum(axis=1) + excess.sum(axis=1)
    for a, s, w in zip(whole, soft.sum(axis=1), wanted, strict=True):
        back = np.linalg.inv(np.linalg.cholesky(s))
        ratio, axes = np.linalg.eigh(back @ (w - s) @ back.T)
        mild = ratio > STIFFEST / 2
        difference = axes.T @ back @ (a - w) @ back.T @ axes
        assert np.abs(difference[np.ix_(mild, mild)]).max() < 1e-9
        assert np.linalg.eigvalsh(back @ a @ back.T)[0] > 1 + STIFFEST - 1e-9


@pytest.mark.parametrize("elements", [(0, 1, 2, 3), (0, 1, 1, 3)], ids=["each its own", "one shared"])
def test_springs_are_what_condensing_says(elements):
    """Two joints of two arms and of three: elements of two ends with three motions each, springs put between ends and
    joints and condensed, against the changes by arm."""
    count, functions = 3, 6
    bricks = positive(4, functions)
    joints = [(np.array([[0, 1]]), positive(1, 2, count)), (np.array([[2, 3, 4]]), positive(1, 3, 2 * count))]
    # arms 0 | 2, 3 are free; arm 0 is the end of element 0 or 1, arm 2 the begin of element 1, arm 3 of element 3
    element = np.array([elements[1], 7, elements[2], elements[3], 8])
    motions = np.array([[3, 4, 5], [0, 1, 2], [0, 1, 2], [0, 1, 2], [0, 1, 2]])
    whole = np.stack([bricks[min(int(e), 3)] for e in element])
    forces = np.take_along_axis(whole, motions[:, :, None], axis=1)
    sets = together(joints, element, count)
    assert len(sets) == (1 if elements[1] == elements[2] else 2)
    size, places = 4 * functions, {a: functions * min(int(element[a]), 3) for a in (0, 2, 3)}
    change = np.zeros((size, size))
    for some in sets:
        found = spring_changes(some, forces, np.ones(5), motions)
        assert found.shape[1] == some.arms.shape[1]
        at = np.concatenate([places[int(a)] + np.arange(functions) for a in some.free[0]])
        np.add.at(change, (at[:, None], at[None, :]), found[0].sum(axis=0))
    broken = np.zeros((size, size))
    for e in {int(element[a]) for a in (0, 2, 3)}:
        here = slice(functions * e, functions * (e + 1))
        broken[here, here] = bricks[e]
    ends = np.concatenate([places[a] + motions[a] for a in (0, 2, 3)])
    soft = np.zeros((3 * count, 3 * count))
    soft[:count, :count] = joints[0][1][0].sum(axis=0)
    soft[count:, count:] = joints[1][1][0].sum(axis=0)
    pull = broken[ends]
    exact = -pull.T @ np.linalg.inv(np.linalg.inv(soft) + broken[np.ix_(ends, ends)]) @ pull
    assert change == pytest.approx(exact, abs=1e-10 * np.abs(exact).max())
    assert lowest(broken + change) > -1e-12
