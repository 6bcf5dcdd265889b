"""The patches that come with the package: those of the demonstrations, as good as solved anew."""

import importlib

import numpy as np
import pytest
from forgotten_joints import forget, solve_no_more
from one_joint import excess_of
from places import STUDIES

from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.mesh.meridian import mesh_meridian
from diaphragm_fem.model.joint import kinds as joint_kinds
from diaphragm_fem.model.joint import table as joint_table
from diaphragm_fem.model.joint.joints import joints_of
from diaphragm_fem.model.joint.kind import Arm, Kind
from diaphragm_fem.model.joint.patch import joint_excess
from diaphragm_fem.model.joint.table import TABLE, shipped


@pytest.fixture(autouse=True)
def nothing_known():
    forget()
    yield
    forget()


@pytest.mark.parametrize("name", ["straight_v", "stepped_v", "metal_dome", "soft_dome", "driver_stepped_v"])
def test_a_demonstration_needs_no_patch(name, monkeypatch):
    solve_no_more(monkeypatch)
    joints = list(joints_of(mesh_meridian(load_design(STUDIES / f"{name}.toml"))))
    assert joints and all(excess_of(joint.kind) for joint in joints)


def test_the_table_is_what_patches_say():
    """Some of each number of arms, solved again: the table is written in single precision (6e-8)."""
    table = shipped()
    assert any(max(key.layers) > 1 for key in table)
    for arms in (1, 2, 3):
        keys = sorted(key for key in table if len(key.layers) == arms)
        for key in keys[:: max(1, len(keys) // 3)][:3]:
            fresh = joint_kinds._patch(key)
            for name, kept in table[key]._asdict().items():
                exact = getattr(fresh, name)
                # 1e-5: factorisations scatter by 1e-7 of the largest, the differences of compliances by more
                assert np.abs(kept - exact).max() <= 1e-5 * np.abs(exact).max() + 1e-12


def test_a_table_is_written_and_read(tmp_path, monkeypatch, capsys):
    monkeypatch.syspath_prepend(STUDIES.parent / ".ci")
    maker = importlib.import_module("make_joint_table")
    for module in (maker, joint_table):
        monkeypatch.setattr(module, "TABLE", tmp_path / "table.npz")
    monkeypatch.setattr(maker, "GAUGES", ())
    monkeypatch.setattr(joint_kinds, "shipped", lambda: {})
    sheet = tmp_path / "disc.toml"
    sheet.write_text(
        'name = "cone"\n[wall]\nmaterial = "PEN film"\nthickness = "50 um"\n[profile]\nkind = "v"\n'
        'coil_diameter = "40 mm"\n[profile.outer]\nwidth = "6 mm"\nrise = "3 mm"\n'
        '[edges]\ninner = "free"\nouter = "clamped"\n'
    )
    maker.main([str(sheet)])
    assert "1 patches in" in capsys.readouterr().out
    shipped.cache_clear()
    table = shipped()
    shipped.cache_clear()
    assert {len(key.points) for key in table} == {5} and TABLE.name == "table.npz"
    ((key, kept),) = table.items()
    assert kept.plane == pytest.approx(joint_kinds.known()[key].plane, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize("modulus", [4.1e9, 30e6], ids=["film", "other rubber"])
def test_a_wall_on_rubber_is_read_from_its_own_patch(modulus):
    """Of any thickness and modulus, in thicknesses of the rubber: measured 6.5e-8."""
    kind = Kind((Arm(np.pi, 1e-4, 13e6, 0.48), Arm(0.3, 0.5e-4, modulus, 0.38)))
    read, fresh = (x.plane.sum(axis=0) * 13e6 / (1 - 0.48**2) for x in (excess_of(kind), joint_excess(kind)))
    assert abs(fresh[0, 0]) > 0.1
    assert read[0, 0] == pytest.approx(fresh[0, 0], abs=3e-7)
    assert read[2, 2] * 1e-8 / 12 == pytest.approx(fresh[2, 2] * 1e-8 / 12, abs=3e-7)
