"""What joints change ends near where it should, however long elements are elsewhere."""

import numpy as np
import pytest
from places import STUDIES
from test_joints_of_random_parts import part

from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.mesh.meridian import mesh_meridian
from diaphragm_fem.model.joint.joints import holds_by_its_middle, joints_of, kinds_of, least_of
from diaphragm_fem.model.joint.mesh import BEYOND, SHORTEST, STRETCH, cut_beside_joints
from diaphragm_fem.model.shell.shell import build_shell


def stretches(mesh):
    """Of the arms of the meridian where a thin stiff wall holds a thick soft one: length over the least."""
    length = np.concatenate([np.diff(cuts) for cuts in mesh.stations])
    for joint in joints_of(mesh):
        walls = joint.kind.arms[:2]
        if len(walls) == 2 and (holds_by_its_middle(*walls) or holds_by_its_middle(*walls[::-1])):
            for elements, least in zip(joint.stretches[:2], least_of(joint.kind), strict=False):
                yield length[elements].sum() / least


@pytest.mark.parametrize("refine", [1, 2])
def test_stretches_end_near_where_they_should(refine):
    """A film of 75 um beside rubber: 62 um of corner and an element of 432, where 75 would do."""
    mesh = mesh_meridian(part(105), refine=refine)
    cut = cut_beside_joints(mesh, kinds_of(mesh))
    longest = max(STRETCH * BEYOND, STRETCH * (1 + SHORTEST))
    assert max(stretches(mesh)) > (6 if refine == 1 else 3)
    assert min(stretches(cut)) >= 1 and max(stretches(cut)) < longest
    assert all(set(old) <= set(new) for old, new in zip(mesh.stations, cut.stations, strict=True))
    assert len(cut.piece_of_element) < 1.06 * len(mesh.piece_of_element)
    shortest = min(np.diff(cuts).min() for cuts in cut.stations)
    assert shortest == min(np.diff(cuts).min() for cuts in mesh.stations)


def test_only_corrected_shells_are_cut():
    design, count = part(105), len(mesh_meridian(part(105)).piece_of_element)
    bare, corrected = (build_shell(design, corrected=x).mesh for x in (False, True))
    assert len(bare.piece_of_element) == count < len(corrected.piece_of_element)


def test_cut_meshes_stay():
    """Once cut there is nothing more to cut."""
    mesh = mesh_meridian(part(105))
    cut = cut_beside_joints(mesh, kinds_of(mesh))
    again = cut_beside_joints(cut, kinds_of(cut))
    assert all(np.array_equal(a, b) for a, b in zip(cut.stations, again.stations, strict=True))


def test_stretches_that_end_in_a_corner_are_not_cut():
    """The straight V's corners of 55 um end stretches of 38 and 50 um, and what follows them is no part of one."""
    mesh = mesh_meridian(load_design(STUDIES / "straight_v.toml"))
    cut = cut_beside_joints(mesh, kinds_of(mesh))
    assert max(stretches(mesh)) < 2
    assert all(np.array_equal(a, b) for a, b in zip(mesh.stations, cut.stations, strict=True))


def test_joints_of_a_shell_are_those_of_its_cut_mesh():
    """They are found before it is cut, and once."""
    model = build_shell(part(105), corrected=True)
    assert model.joints.joints == tuple(joints_of(model.mesh))
