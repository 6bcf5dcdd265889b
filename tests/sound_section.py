"""What must hold of every cut section."""

from collections import Counter
from itertools import pairwise

import numpy as np
import pytest

from diaphragm_fem.mesh.section import Section
from diaphragm_fem.mesh.section_plan import flatness
from diaphragm_fem.model.solid.solid import build_solid

SIDES = ((0, 1), (1, 2), (3, 2), (0, 3))


def check_sound(section: Section) -> None:
    """Cells not inside out, each inner side shared by two that run it the same way, one border, no holes, and the
    front face whole."""
    plan = section.plan
    assert flatness(section.points, section.cells).min() > 0.02
    sides = Counter(side for a, b in SIDES for side in zip(*section.cells[[a, b]].tolist(), strict=True))
    assert max(sides.values()) <= 2
    assert not any((b, a) in sides for a, b in sides)
    border = [side for side, count in sides.items() if count == 1]
    assert all(count == 2 for count in Counter(x for side in border for x in side).values())
    assert len(plan.points) - len(sides) + section.cells.shape[1] == 1
    ends = [[plan.cells[c][k] for k in (SIDES[side] if side >= 2 else SIDES[side][::-1])] for c, side in plan.front]
    assert all(a[1] == b[0] for a, b in pairwise(ends))
    first, last = (plan.points[ends[k][k]][0] for k in (0, -1))
    area = build_solid(section.design, section).structure(0).zone_area.sum()
    assert area == pytest.approx(np.pi * (last**2 - first**2), rel=1e-12)  # the front face closes, to rounding
