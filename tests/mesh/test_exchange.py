"""Meshes written and read back through meshio, and the reference meshes kept in meshes/."""

from pathlib import Path

import numpy as np
import pytest
from mesh_files import read_mesh
from solid_walls import motion_at_nodes, stepped_v

from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.exchange import meridian_grid, section_grid, surface_grid, write_mesh
from diaphragm_fem.mesh.meridian import mesh_meridian
from diaphragm_fem.mesh.section import mesh_section
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.solid.solid import build_solid

DESIGN = stepped_v()


@pytest.mark.parametrize("suffix", [".msh", ".vtu"])
def test_section_with_a_mode_shape_comes_back(tmp_path, suffix):
    """The field is the rocking motion of m = 1, known at every point: (z, -r, -z) as (u_r, u_z, u_theta)."""
    section = mesh_section(DESIGN)
    r, z = section.points
    field = np.stack((z, -r, -z), axis=1)
    path = tmp_path / f"section{suffix}"
    write_mesh(path, section_grid(section), {"rocking": field})
    back = read_mesh(path)
    assert back.kind == "quad9"
    np.testing.assert_array_equal(back.points[:, :2], section.points.T)
    np.testing.assert_array_equal(back.cells, section.cells.T)
    np.testing.assert_array_equal(back.zone, section.zone_of_cell)
    np.testing.assert_array_equal(back.fields["rocking"], field)
    if suffix == ".msh":
        assert back.zone_names == tuple(zone.name for zone in DESIGN.zones)


@pytest.mark.parametrize("suffix", [".msh", ".vtu"])
def test_meridian_comes_back(tmp_path, suffix):
    mesh = mesh_meridian(DESIGN)
    path = tmp_path / f"meridian{suffix}"
    write_mesh(path, meridian_grid(mesh))
    back, grid = read_mesh(path), meridian_grid(mesh)
    assert back.kind == "line3"
    np.testing.assert_allclose(back.points, grid.points, rtol=0, atol=1e-15)
    np.testing.assert_array_equal(back.cells, grid.cells)
    length = np.linalg.norm(np.diff(back.points[back.cells[:, :2]], axis=1), axis=2).sum()
    assert length == pytest.approx(sum(p.curve.length for p in mesh.pieces), rel=1e-12)  # straight pieces


@pytest.mark.parametrize("build", [build_shell, build_solid])
def test_shell_and_solid_motion_goes_out_on_the_surface(tmp_path, build):
    """The coil's static push, as a field on the surface points: the file holds what the maps give."""
    from scipy.sparse.linalg import spsolve

    structure = build(DESIGN).structure(0)
    u = spsolve(structure.stiffness.tocsc(), structure.drive)
    surface = structure.surface
    names = tuple(zone.name for zone in structure.zones)
    grid = surface_grid(surface.r, surface.z, surface.zone, surface.run, names)
    field = np.stack((surface.motion_r @ u, surface.motion_z @ u, 0 * surface.r), axis=1)
    write_mesh(tmp_path / "push.vtu", grid, {"push": field})
    back = read_mesh(tmp_path / "push.vtu")
    np.testing.assert_array_equal(back.fields["push"], field)
    assert back.fields["push"][:, 1].max() == pytest.approx(structure.pickup @ u, rel=2e-2)  # the coil moves furthest


def test_solid_motion_at_nodes_agrees_with_its_surface():
    """Node motion averaged over the end face of the former equals the surface's value at its end."""
    from scipy.sparse.linalg import spsolve

    model = build_solid(DESIGN)
    structure = model.structure(0)
    u = spsolve(structure.stiffness.tocsc(), structure.drive)
    axial = motion_at_nodes(model, 0)[2] @ u
    lowest = np.isclose(model.section.points[1], model.section.points[1].min(), atol=1e-9)
    assert axial[lowest].mean() == pytest.approx((structure.surface.motion_z @ u)[-1], rel=1e-4)


def test_a_field_must_fit_the_points(tmp_path):
    with pytest.raises(MeshError, match=r"field 'x' must have one value for each of the \d+ points, received 3"):
        write_mesh(tmp_path / "a.vtu", section_grid(mesh_section(DESIGN)), {"x": np.zeros(3)})


def test_other_suffixes_are_refused(tmp_path):
    with pytest.raises(MeshError, match=r"must end in \.msh or \.vtu, received 'a\.stl'"):
        write_mesh(tmp_path / "a.stl", meridian_grid(mesh_meridian(DESIGN)))


MESHES = Path(__file__).parents[2] / "meshes"


@pytest.mark.parametrize("design", sorted(MESHES.glob("*.toml")), ids=lambda path: path.stem)
def test_reference_meshes_show_their_designs(design):
    """Each design in meshes/ has its section and its meridian beside it: same zones, and zone by zone the same size.

    Cell counts may change with the meshers; length and area of a zone may not, but for how well cells follow a curve.
    """
    from diaphragm_fem.design.read.read import load_design

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
