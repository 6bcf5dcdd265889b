"""Triangles of a union parted at singular corners."""

import numpy as np
import pytest
from solid_walls import MM
from test_knot import block

from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.mesh.corners import CLOSER, LEAST, MOST
from diaphragm_fem.mesh.section_plan import FLATTEST, flatness
from diaphragm_fem.mesh.tips import cut_off_tips
from diaphragm_fem.mesh.union import UnionCells, UnionPiece, cut_union
from diaphragm_fem.model.joint.triangles import Triangles

BLOCKS = [block(0, 2, 0, 2, 1e6), block(1, 3, 0.5, 1.5, 1e9)]
QUARTER = UnionPiece(
    [Arc((1.0, 0.0), MM, 0.0, np.pi / 2), Line((1.0, MM), (1.0, 0.0)), Line((1.0, 0.0), (1.0 + MM, 0.0))], MM, 1e6, -1e6
)


def size(cut: UnionCells) -> np.ndarray:
    return Triangles(cut.points, cut.cells, 3).weight.sum(axis=1)


@pytest.mark.parametrize("patches", [BLOCKS, [QUARTER, block(0, 3, -2, 0, 1e9)]])
def test_parts_fill_what_was_parted(patches):
    """Area by area, materials apart; sides are shared by two triangles, or lie on the border as before."""
    whole = cut_union("blocks", patches, [], corners=3)
    parted = cut_off_tips(whole, [])
    assert len(parted.cells) > len(whole.cells) and flatness(parted.points.T, parted.cells.T).min() > FLATTEST
    for patch in range(len(patches)):
        areas = [float(size(cut)[cut.patch == patch].sum()) for cut in (whole, parted)]
        assert areas[1] == pytest.approx(areas[0], rel=1e-9, abs=0)
    for cut in (whole, parted):
        _, met = np.unique(cut.cells[:, 3:], return_counts=True)
        assert set(met.tolist()) == {1, 2}
    alone = [np.unique(cut.cells[:, 3:], return_counts=True) for cut in (whole, parted)]
    corner = [cut.points[cut.cells[:, :3]] for cut in (whole, parted)]
    lengths = []
    for cut, (sides, met), own in zip((whole, parted), alone, corner, strict=True):
        length = np.linalg.norm(own - np.roll(own, -1, axis=1), axis=2)
        lengths.append(float(length[np.isin(cut.cells[:, 3:], sides[met == 1])].sum()))
    assert lengths[1] == pytest.approx(lengths[0], rel=2e-2)  # an arc has more chords


def test_triangles_are_small_at_singular_corners_alone():
    parted = cut_off_tips(cut_union("blocks", BLOCKS, [], corners=3), [])
    area, largest = size(parted) / MM**2, {}
    for r, z in ((0, 0), (0, 2), (2, 0), (2, 2), (3, 0.5), (3, 1.5), (1, 0.5), (1, 1.5), (2, 0.5), (2, 1.5)):
        here = np.linalg.norm(parted.points - [1 + r * MM, z * MM], axis=1) < 1e-9
        largest[r, z] = float(area[here[parted.cells[:, :3]].any(axis=1)].max())
    singular = [largest.pop(corner) for corner in ((1, 0.5), (1, 1.5), (2, 0.5), (2, 1.5))]
    assert max(singular) < 0.05 and min(largest.values()) > 0.1, (singular, largest)


def test_a_tip_is_as_long_as_a_share_of_the_shortest_side_there():
    """CLOSER of it, within LEAST and MOST of the side that it is cut off."""
    whole = cut_union("blocks", BLOCKS, [], corners=3)
    parted = cut_off_tips(whole, [])

    def sides_at(cut: UnionCells, point: np.ndarray) -> np.ndarray:
        pairs = np.stack((cut.cells[:, :3], np.roll(cut.cells[:, :3], -1, axis=1)), axis=2).reshape(-1, 2)
        ends = np.unique(np.sort(pairs, axis=1), axis=0)
        length = np.linalg.norm(cut.points[ends[:, 0]] - cut.points[ends[:, 1]], axis=1)
        return length[(np.linalg.norm(cut.points[ends] - point, axis=2) < 1e-9).any(axis=1)]

    for point in whole.points[whole.singular]:
        length = sides_at(whole, point)
        expected = np.clip(CLOSER * length.min(), LEAST * length, MOST * length)
        assert np.sort(sides_at(parted, point)) == pytest.approx(np.sort(expected))


def test_corners_on_an_end_stay():
    whole = cut_union("blocks", BLOCKS, [], corners=3)
    end = Line((1.0 + MM, 0.5 * MM), (1.0 + MM, 1.5 * MM))
    parted, kept = cut_off_tips(whole, []), cut_off_tips(whole, [end])
    assert len(whole.cells) < len(kept.cells) < len(parted.cells)
