"""The reference meshes kept in meshes/ are those of their designs, and come back from their files."""

from pathlib import Path

import numpy as np
import pytest
from mesh_files import meridian_grid, read_mesh, section_grid, write_msh
from solid_walls import motion_at_nodes, stepped_v

from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.mesh.meridian import mesh_meridian
from diaphragm_fem.mesh.section import mesh_section
from diaphragm_fem.model.solid.solid import build_solid

DESIGN = stepped_v()


def test_meshes_come_back(tmp_path):
    section, mesh = mesh_section(DESIGN), mesh_meridian(DESIGN)
    write_msh(tmp_path / "section.msh", section_grid(section))
    write_msh(tmp_path / "meridian.msh", meridian_grid(mesh))
    back = read_mesh(tmp_path / "section.msh")
    assert back.kind == "quad9" and back.zone_names == tuple(zone.name for zone in DESIGN.zones)
    np.testing.assert_array_equal(back.points[:, :2], section.points.T)
    np.testing.assert_array_equal(back.cells, section.cells.T)
    np.testing.assert_array_equal(back.zone, section.zone_of_cell)
    back, grid = read_mesh(tmp_path / "meridian.msh"), meridian_grid(mesh)
    assert back.kind == "line3"
    np.testing.assert_allclose(back.points, grid.points, rtol=0, atol=1e-15)
    np.testing.assert_array_equal(back.cells, grid.cells)
    length = np.linalg.norm(np.diff(back.points[back.cells[:, :2]], axis=1), axis=2).sum()
    assert length == pytest.approx(sum(p.curve.length for p in mesh.pieces), rel=1e-12)  # straight pieces


def test_solid_motion_at_nodes_agrees_with_its_surface():
    """Node motion averaged over the end face of the former equals the surface's value at its end."""
    from scipy.sparse.linalg import spsolve

    model = build_solid(DESIGN)
    structure = model.structure(0)
    u = spsolve(structure.stiffness.tocsc(), structure.drive)
    axial = motion_at_nodes(model, 0)[2] @ u
    lowest = np.isclose(model.section.points[1], model.section.points[1].min(), atol=1e-9)
    assert axial[lowest].mean() == pytest.approx((structure.surface.motion_z @ u)[-1], rel=1e-4)


MESHES = Path(__file__).parents[2] / "meshes"


@pytest.mark.parametrize("design", sorted(MESHES.glob("*.toml")), ids=lambda path: path.stem)
def test_reference_meshes_show_their_designs(design):
    """Each design in meshes/ has its section and its meridian beside it: same zones, and zone by zone the same size.

    Cell counts may change with the meshers; length and area of a zone may not, but for how well cells follow a curve.
    """
    loaded = load_design(design)
    for name, fresh in (
        ("section", section_grid(mesh_section(loaded))),
        ("meridian", meridian_grid(mesh_meridian(loaded))),
    ):
        kept = read_mesh(design.with_name(f"{design.stem}_{name}.msh"))
        assert kept.zone_names == fresh.zone_names and kept.kind == fresh.kind
        # 2e-3: a zone of few cells gains or loses a shoulder or a mitre when its first cell changes
        np.testing.assert_allclose(zone_sizes(kept), zone_sizes(fresh), rtol=2e-3)


def zone_sizes(grid) -> np.ndarray:
    """Area of each zone of a section (m2), or length of each zone of a meridian (m), by Simpson's rule on each side."""
    p = grid.points[grid.cells][..., :2]
    if grid.kind == "line3":
        begin, end, middle = p[:, 0], p[:, 1], p[:, 2]
        speed = (-3 * begin + 4 * middle - end, end - begin, begin - 4 * middle + 3 * end)
        size = np.stack([np.linalg.norm(x, axis=1) for x in speed], axis=1) @ np.array([1, 4, 1]) / 6
    else:
        size = np.zeros(len(p))
        for a, m, b in ((0, 4, 1), (1, 5, 2), (2, 6, 3), (3, 7, 0)):
            begin, middle, end = p[:, a], p[:, m], p[:, b]
            rise = (-3 * begin + 4 * middle - end, end - begin, begin - 4 * middle + 3 * end)
            for weight, point, slope in zip((1, 4, 1), (begin, middle, end), rise, strict=True):
                size += weight / 6 * point[:, 0] * slope[:, 1]
    return np.bincount(grid.zone, weights=size, minlength=len(grid.zone_names))


def test_there_are_reference_meshes():
    assert len(list(MESHES.glob("*.toml"))) >= 3
