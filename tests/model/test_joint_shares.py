"""What is parted among arms stays positive and adds up; a joint's change is what condensing says."""

from types import SimpleNamespace

import numpy as np
import pytest

from diaphragm_fem.model.joint.kind import transport
from diaphragm_fem.model.joint.parts import alike
from diaphragm_fem.model.joint.shares import CROWDED, parted, shared
from diaphragm_fem.model.joint.stiffness import Yield, joint_stiffness, stretch_yield

RNG = np.random.default_rng(3)
NOT_CROWDED = np.zeros(5, bool)


def positive(*shape: int) -> np.ndarray:
    root = RNG.normal(size=(*shape, shape[-1]))
    return root @ root.swapaxes(-1, -2) + 0.1 * np.eye(shape[-1])


def lowest(matrices: np.ndarray) -> float:
    return float((np.linalg.eigvalsh(matrices)[..., 0] / np.abs(matrices).max(axis=(-1, -2))).min())


def test_shares_are_positive_and_add_up():
    """Where all are positive they stay; else what is negative is held at nothing and the others make room for it."""
    wanted = np.stack([positive(4, 3), positive(4, 3)], axis=1)
    assert shared(wanted) == pytest.approx(wanted, rel=1e-9)
    wanted[:, 1] -= 0.5 * wanted.sum(axis=1)
    found = shared(wanted)
    assert found.sum(axis=1) == pytest.approx(wanted.sum(axis=1), rel=1e-9)
    assert lowest(wanted) < -0.01 and lowest(found) > -1e-13


def test_where_no_arm_wants_any_none_has_a_share():
    """And none has what is not a number, which a mutant of the stepped V once got."""
    soft = np.stack([np.diag([0.5, 0.5, 1.0]), np.diag([0.5, 0.5, 0.0])])[None]
    excess = np.array([np.diag([0.4, 0.0, 0.0]), np.diag([-0.1, 0.0, 0.0])])[None]
    with np.errstate(all="raise"):
        nothing, some = (parted(x, soft, NOT_CROWDED[:1]) for x in (0 * excess, excess))
        assert not nothing.change(nothing.each).any()
    assert np.count_nonzero(some.holds) == 2 and np.count_nonzero(some.lent) == 1


def test_an_excess_is_parted_into_stiffer_and_softer():
    """What all arms hold makes the whole give way by S + C, held where that would be too stiff, whichever arm has
    moved."""
    soft, excess = positive(5, 2, 6), 0.3 * (positive(5, 2, 6) - positive(5, 2, 6))
    part = parted(excess, soft, NOT_CROWDED)
    assert min(map(lowest, (part.soft, part.holds))) > -1e-13
    assert part.lent.any()
    change = part.change(part.each).sum(axis=1).reshape(5, 2, 6, 2, 6)
    for a, b in ((0, 0), (0, 1), (1, 1)):
        assert change[:, a, :, b] == pytest.approx(change[:, 0, :, 0], abs=1e-9)
    stiffness = np.eye(6) + change[:, 0, :, 0]
    wanted = part.directions @ (soft + excess).sum(axis=1) @ part.directions.swapaxes(-1, -2)
    level = np.diagonal(wanted, axis1=-2, axis2=-1)
    assert wanted == pytest.approx(np.stack([np.diag(x) for x in level]), abs=1e-10 * np.abs(level).max())
    mild = level > 0.55
    given = np.diagonal(np.linalg.inv(stiffness), axis1=-2, axis2=-1)
    assert given[mild] == pytest.approx(level[mild], rel=1e-9)
    assert 0.1 - 1e-9 < given[~mild].min() < 0.2  # a tenth is left to the stiffest, which comes near


def test_where_loads_balance_each_arm_has_its_true_share():
    """Stretches under one load, D_a = S_a D: what an arm holds is the derivative by the log of its modulus of the whole
    stiffness (S + C)^-1, also where its part of C is negative. Measured 3e-15."""
    soft = positive(5, 3, 4)
    excess = 0.3 * soft[:, ::-1] * np.array([1.0, -1.0, 1.0])[:, None, None]
    part = parted(excess, soft, NOT_CROWDED)
    assert part.lent[:, 1].any()
    turned = part.directions.swapaxes(-1, -2)[:, None]
    more = part.directions[:, None] @ (soft + excess) @ turned
    stiff = np.linalg.inv(more.sum(axis=1))[:, None]
    rows = part.soft.reshape(5, 1, 12, 4)
    held = part.soft + rows.swapaxes(-1, -2) @ part.change(part.each) @ rows
    assert held == pytest.approx(stiff @ more @ stiff, rel=1e-9, abs=1e-11)


def test_an_arm_has_its_true_share_of_loads_that_its_stretch_does_not_bear():
    """Three arms that meet give way to one another's loads, a third of their own way: what an arm has of both together
    goes below zero, and its stretch covers that as well. Measured 3e-15; 0.05 to 0.2 where it covers its own loads."""
    carry = transport(2, 3)
    bears, gives = positive(5, 3, 3), positive(5, 3, 6)
    soft = carry.swapaxes(-1, -2) @ bears @ carry
    beside = carry + 0.3 * carry[[1, 2, 0]]
    excess = beside.swapaxes(-1, -2) @ bears @ beside + 0.2 * gives - soft
    part = parted(excess, soft, NOT_CROWDED)
    each = part.directions[:, None]
    more = each @ (soft + excess) @ each.swapaxes(-1, -2)
    stiff = np.linalg.inv(more.sum(axis=1))[:, None]
    own = part.soft @ np.eye(6)
    assert part.change(own) == pytest.approx(stiff @ more @ stiff - part.soft, rel=1e-9, abs=1e-11)


def test_rounding_of_loads_that_an_arm_does_not_bear_moves_nothing():
    """Up to 2e-12 of its compliance stands there; taken for compliance, it moved a fundamental by 5e-5."""
    bears = positive(5, 3, 3)
    soft, noise = np.zeros((2, 5, 3, 6, 6))
    soft[:, 0, :3, :3], soft[:, 1, 3:, 3:], soft[:, 2] = bears[:, 0], bears[:, 1], positive(5, 6)
    excess = 0.2 * (positive(5, 3, 6) - positive(5, 3, 6))
    noise[:, :2] = 1e-11 * (positive(5, 2, 6) - positive(5, 2, 6))
    plain, other = (x.change(x.each) for x in (parted(excess, y, NOT_CROWDED) for y in (soft, soft + noise)))
    assert other == pytest.approx(plain, abs=1e-6 * np.abs(plain).max())


def test_a_crowded_joint_leaves_the_other_one_its_half():
    soft, excess = np.stack([positive(1, 3)] * 2), np.stack([1e6 * positive(1, 3)] * 2)
    part = parted(excess, soft, np.array([True, False]))
    assert part.taken[0] == pytest.approx(1 - 1 / np.sqrt(2), rel=1e-4) and part.taken[1] == pytest.approx(1, abs=1e-4)
    crowded, alone = parted(1e-7 * excess, soft, np.array([True, False])).taken
    assert crowded == pytest.approx(alone / (1 + CROWDED * alone), rel=1e-12)


def joints():
    """Joints of three arms and of two, and a held end; each arm's stretch has three motions at the joint and three at
    its far end: stiffness of the arms (6, 6, 6), and what the code makes of it."""
    bricks = positive(6, 6)
    give = np.linalg.inv(bricks[:, :3, :3])
    far = give @ bricks[:, :3, 3:]
    dofs = np.arange(36).reshape(6, 6)
    dofs[1:3, :3], dofs[4, :3] = dofs[0, :3], dofs[3, :3]
    return bricks, Yield(give, np.stack([np.eye(3)] * 6), far, dofs[:, :3], dofs[:, 3:], np.full(6, 3))


def changes(found, some_excess):
    """Of each arm of these joints, like ones together: a joint's arms, the arm's place there, its excess, dofs and
    change."""
    for own in alike(np.array([0, 0, 0, 1, 1, 2]), np.arange(6)):
        excess = np.zeros((len(own.parts), 3 * own.free, 3 * own.free))
        for j in range(len(own.joints)):
            here = own.joint == j
            excess[here] = some_excess(here.sum(), 3 * own.free)
        each = joint_stiffness(found.picked(own.parts), own, excess, np.zeros(len(own.joints), bool))
        for j, arm, dofs, change in zip(own.joint, own.parts, *each, strict=True):
            arms = own.parts[own.joint == j]
            live = slice(0, 3 + 3 * len(arms))
            yield arms, arm, transport(own.free, 3), excess[own.joint == j].sum(axis=0), dofs[live], change[live, live]


def test_a_joints_change_is_what_condensing_says():
    """Joints broken open, a positive compliance between the ends of the arms, and all ends condensed: the least energy
    of moves that are Z T y, found here by minimising over y outright."""
    bricks, found = joints()
    told = dict[tuple[int, ...], list]()
    for arms, *own in changes(found, positive):
        told.setdefault(tuple(arms.tolist()), []).append(own)
    assert sorted(told) == [(0, 1, 2), (3, 4), (5,)]
    for arms, own in told.items():
        carry, held = own[0][1:3]
        whole, mine = np.zeros((2, 36, 36))
        moved = np.zeros((36, len(held)))  # what y does to the ends, arm by arm, as forces on all motions
        stiff = np.zeros_like(held)
        for a, bears in zip(arms, carry, strict=False):
            raw = np.concatenate((found.end_dofs[a], found.far_dofs[a]))
            whole[np.ix_(raw, raw)] += bricks[a]
            move = -found.give[a] @ bears
            moved[raw] += bricks[a][:, :3] @ move
            stiff += move.T @ bricks[a, :3, :3] @ move
        stiff += stiff @ np.linalg.inv(held) @ stiff
        exact = -moved @ np.linalg.inv(stiff) @ moved.T
        for *_, dofs, change in own:
            np.add.at(mine, (dofs[:, None], dofs), change)
        assert mine == pytest.approx(exact, abs=1e-9 * np.abs(exact).max())
        assert np.linalg.eigvalsh(whole + mine)[0] > -1e-12 * np.abs(whole).max()


@pytest.mark.parametrize("scale", [0.1, 10.0])
def test_no_arm_takes_more_than_its_stretch_holds(scale):
    """With an excess of either sign, whichever arm's modulus is raised a million times."""
    bricks, found = joints()
    told = list(changes(found, lambda *shape: scale * (positive(*shape) - positive(*shape))))
    for factor in np.eye(6) * 1e6 + 1:
        whole = np.zeros((36, 36))
        for _, a, *_, dofs, change in told:
            raw = np.concatenate((found.end_dofs[a], found.far_dofs[a]))
            np.add.at(whole, (raw[:, None], raw), factor[a] * bricks[a])
            np.add.at(whole, (dofs[:, None], dofs), factor[a] * change)
        assert np.linalg.eigvalsh(whole)[0] > -1e-12 * np.abs(whole).max()


@pytest.mark.parametrize("end", [0, 1])
def test_a_stretch_yields_as_its_elements_in_a_row_do(end):
    """Stretches of one element and of two, against the inverse of the whole."""
    bricks = positive(3, 9)  # u, w, b at begin, end and middle
    row = np.array([0, 1, 2]) if end == 0 else np.array([2, 1, 0])
    base = np.array([0, 3, 6])
    dofs = np.stack([(10 * base[:, None] + 2 * e + np.array([0, 2, 1])).ravel() for e in range(3)])  # nodes 0 ... 6
    stretches = SimpleNamespace(
        end=np.array([end, end]), length=np.array([1, 2]), elements=np.stack((row[[0, 0]], row[[0, 1]]))
    )
    found = stretch_yield(stretches, SimpleNamespace(m=0, dofs=dofs), bricks, stretches.elements, np.arange(2))
    for k, elements in enumerate(([row[0]], [row[0], row[1]])):
        whole = np.zeros((90, 90))
        for e in elements:
            whole[np.ix_(dofs[e], dofs[e])] += bricks[e]
        first, far = dofs[elements[0], base + end], dofs[elements[-1], base + 1 - end]
        live = np.setdiff1d(np.unique(dofs[elements]), far)
        give = np.linalg.inv(whole[np.ix_(live, live)])
        at = np.searchsorted(live, first)
        assert found.give[k] == pytest.approx(give[np.ix_(at, at)], rel=1e-9, abs=1e-12)
        assert found.far[k] == pytest.approx((give @ whole[np.ix_(live, far)])[at], rel=1e-9, abs=1e-12)
        assert (found.end_dofs[k] == first).all() and (found.far_dofs[k] == far).all()


@pytest.mark.parametrize("end", [0, 1])
def test_parts_of_a_stretch_do_what_their_own_stiffness_does(end):
    """Stretches of two elements and of one, of two materials each, and one of one: with X the motion under unit loads
    at the joint, the far end held, and K_i a part's own stiffness, X^T K_i X and X^T K_i of any motion."""
    bricks = positive(8, 9)  # u, w, b at begin, end and middle of four elements, and of the second material
    row = np.array([0, 1, 2, 3]) if end == 0 else np.array([3, 2, 1, 0])
    base = np.array([0, 3, 6])
    dofs = np.stack([(10 * base[:, None] + 2 * e + np.array([0, 2, 1])).ravel() for e in range(4)])
    elements, length = row[[[0, 1], [2, 2], [3, 3]]], np.array([2, 1, 1])
    stretches = SimpleNamespace(end=np.array([end] * 3), length=length, elements=elements)
    arm, material = np.array([0, 0, 1, 1, 2]), np.array([0, 1, 0, 1, 0])
    order = SimpleNamespace(m=0, dofs=dofs)
    found = stretch_yield(stretches, order, bricks, elements[arm] + 4 * material[:, None], arm)
    for p in range(5):
        own, whole = np.zeros((2, 90, 90))
        for e in elements[arm[p], : length[arm[p]]]:
            raw = np.ix_(dofs[e], dofs[e])
            own[raw] += bricks[e + 4 * material[p]]
            whole[raw] += bricks[e] + bricks[e + 4] * (arm[p] < 2)
        first, far = found.end_dofs[p], found.far_dofs[p, :3]
        live = np.setdiff1d(np.flatnonzero(whole.any(axis=0)), far)
        moved = np.zeros((90, 3))
        moved[live] = np.linalg.solve(whole[np.ix_(live, live)], np.eye(90)[np.ix_(live, first)])
        assert found.give[p] == pytest.approx(moved.T @ own @ moved, rel=1e-9, abs=1e-12)
        work = np.zeros((3, 90))
        np.add.at(work, (slice(None), first), found.near[p])
        np.add.at(work, (slice(None), found.far_dofs[p]), found.far[p])
        assert work == pytest.approx(moved.T @ own, abs=1e-9)
        assert found.stays[p] == (3 if p == 4 else 6 * length[arm[p]])


def test_parts_of_an_arm_change_together_what_it_would_as_one():
    """Whatever part of an arm yields, all that a joint holds is the same; one arm in two parts has nine motions that
    stay, the other three, and beside them stands a joint of two arms in one part each."""
    give, far = positive(4, 3), RNG.normal(size=(4, 3, 9))
    far[1:, :, 3:] = 0.0
    near, stays = np.stack([np.eye(3)] * 4), np.array([9, 3, 3, 3])
    dofs = np.arange(48).reshape(4, 12)
    dofs[1, :3], dofs[3, :3] = dofs[0, :3], dofs[2, :3]
    stay = np.where(np.arange(9) < stays[:, None], dofs[:, 3:], dofs[:, :1])
    whole = Yield(give, near, far, dofs[:, :3], stay, stays)
    split = whole.picked(np.array([0, 0, 1, 2, 3]))
    for name, share in (("give", positive(3)), ("near", RNG.normal(size=(3, 3))), ("far", RNG.normal(size=(3, 9)))):
        getattr(split, name)[0] -= share
        getattr(split, name)[1] = share
    excess, totals = positive(4, 3), []
    for found, arm, own in ((whole, np.arange(4), excess), (split, np.array([0, 0, 1, 2, 3]), excess[[0, 0, 1, 2, 3]])):
        (joints,) = alike(np.array([0, 0, 1, 1]), arm)
        halves = np.where(np.bincount(arm)[arm] > 1, 0.5, 1.0)[:, None, None]
        raw, change = joint_stiffness(found, joints, own * halves, np.zeros(2, bool))
        totals.append(np.zeros((48, 48)))
        np.add.at(totals[-1], (raw[:, :, None], raw[:, None]), change)
    assert totals[1] == pytest.approx(totals[0], abs=1e-9 * np.abs(totals[0]).max())
