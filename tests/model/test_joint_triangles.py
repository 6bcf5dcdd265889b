"""The triangles of a joint that is drawn as the union of its walls: their functions and integrals."""

import numpy as np
import pytest

from diaphragm_fem.model.joint.triangles import CORNERS, SIDES, Triangles

ORDER = 6
PLACES = np.array([(0.0, 0.0), (2.0, 0.3), (0.4, 1.5), (2.4, 1.9)])


def pair(bulge: float = 0.0, order: int = ORDER) -> Triangles:
    """Two triangles with a side in common, whose corners stand in no order; one side may be curved."""
    cells = np.array([(2, 0, 1), (1, 3, 2)])
    middles = np.array([(0.2, 0.75), (1.0, 0.15), (1.2, 0.9), (2.2 + bulge, 1.1), (1.4, 1.7)])
    sides = np.array([(4, 5, 6), (7, 8, 6)])
    return Triangles(np.concatenate((PLACES, middles)), np.concatenate((cells, sides), axis=1), order)


def inner_points(count: int) -> np.ndarray:
    x = np.random.default_rng(1).random((2, 1, count)) / 2
    return np.ascontiguousarray(x)


def test_slopes_are_those_of_the_functions():
    """The slope of each function of a straight triangle, from its integrals against linear fields, is what the function
    changes by: by Gauss's theorem, from its values on the border."""
    own = pair()
    x, w = np.polynomial.legendre.leggauss(ORDER + 2)
    x, w = (x + 1) / 2, w / 2
    for cell, slopes in enumerate(own.slopes):
        found = np.stack([slopes[d, :, d, :3] @ own.corner[cell][:, d] for d in (0, 1)], axis=1)
        turn = np.sign(np.linalg.det(own.corner[cell][1:] - own.corner[cell][0]))
        wanted = np.zeros_like(found)
        for (a, b), sign in zip(SIDES, (1, -1, 1), strict=True):
            local = CORNERS[a][:, None] * (1 - x) + CORNERS[b][:, None] * x
            along = (own.corner[cell][b] - own.corner[cell][a]) * sign * turn
            value = own.at(np.ascontiguousarray(local[:, None]))[:, 0] @ w
            wanted += value[:, None] * np.array([along[1], -along[0]])
        np.testing.assert_allclose(found, wanted, atol=1e-12)


def test_neighbours_agree_on_the_side_that_they_share():
    """At the same places of that side every function of it has the same value from both of its triangles."""
    own, x = pair(), np.linspace(0.1, 0.9, 5)
    found = []
    for cell in range(2):
        for a, b in SIDES:
            tips = own.corner[cell][[a, b]]
            if {tuple(tip) for tip in tips.tolist()} == {tuple(PLACES[k]) for k in (1, 2)}:
                x_here = x if tuple(tips[0]) == tuple(PLACES[1]) else 1 - x
                local = CORNERS[a][:, None] * (1 - x_here) + CORNERS[b][:, None] * x_here
                value = own.at(np.ascontiguousarray(local[:, None]))[:, 0]
                shown = np.abs(value).max(axis=1) > 1e-12
                found.append(dict(zip(own.nodes[cell][shown].tolist(), value[shown].tolist(), strict=True)))
    assert len(found) == 2 and found[0].keys() == found[1].keys() and len(found[0]) == ORDER + 1
    for node, value in found[0].items():
        np.testing.assert_allclose(value, found[1][node], atol=1e-12)


@pytest.mark.parametrize("bulge", [0.0, 0.3, -0.3])
def test_energy_of_a_field_is_that_of_its_curved_piece(bulge):
    """The integral of |grad(r^3)|^2 = 9 r^4, for the field has degree 6 at most in the triangles' own coordinates;
    wanted is that of the area's border, by Gauss's theorem, of r^5/5."""
    own = pair(bulge)
    local = inner_points(200)
    value, total, area = own.at(local)[:, 0], 0.0, 0.0
    for cell, slopes in enumerate(own.slopes):
        r = own._map[cell][:, 0] @ Triangles(own.places, own.cells, 2).at(local)[:, 0]
        amount, *_ = np.linalg.lstsq(value.T, r**3, rcond=None)
        assert np.abs(value.T @ amount - r**3).max() < 1e-10
        total += sum(float(amount @ slopes[d, :, d] @ amount) for d in (0, 1))
        area += float(own.weight[cell].sum())
    x, w = np.polynomial.legendre.leggauss(20)
    t, w = (x + 1) / 2, w / 2
    wanted = whole = 0.0
    border = [(0, (1.0, 0.15), 1), (1, (2.2 + bulge, 1.1), 3), (3, (1.4, 1.7), 2), (2, (0.2, 0.75), 0)]
    for a, middle, b in border:
        p, m, q = PLACES[a], np.array(middle), PLACES[b]
        r, _ = np.outer(p, (1 - t) * (1 - 2 * t)) + np.outer(m, 4 * t * (1 - t)) + np.outer(q, t * (2 * t - 1))
        _, rise = np.outer(p, 4 * t - 3) + np.outer(m, 4 - 8 * t) + np.outer(q, 4 * t - 1)
        wanted, whole = wanted + float(9 / 5 * r**5 * rise @ w), whole + float(r * rise @ w)
    assert total == pytest.approx(wanted, rel=1e-10)
    assert area == pytest.approx(whole, rel=1e-12)
