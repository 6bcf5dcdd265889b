"""A free shell shifted sideways, u = 1, v = -1, and rocked, u = z, v = -z, w = -r, b = 1, q = -t_r: no energy (the turn
of a rigid body, in the shell's components; derived here)."""

from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from diaphragm_fem.analysis.modes.eigen import eigenpairs_below
from diaphragm_fem.design.design import Ring
from diaphragm_fem.design.glued.bead import bead_mass, bead_section
from diaphragm_fem.design.material.material import LossFactor, Material
from diaphragm_fem.design.meridian.edge import FREE
from diaphragm_fem.design.read.read import design_from, load_design
from diaphragm_fem.model.rings import bead_terms, ring_terms
from diaphragm_fem.model.shell.added import windings
from diaphragm_fem.model.shell.numbering import B, Q, V, W
from diaphragm_fem.model.shell.rocking import rocking
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.shell.strain import STRAINS, local_field, stacked, strains

STUDIES = Path(__file__).parents[2] / "studies"
FILM = {"material": "PEN film", "thickness": "50 um"}
COIL = {"kind": "former", "former": {"material": "aluminium alloy", "thickness": "60 um"}, "former_height": "3 mm",
        "winding_height": "1.5 mm", "winding_mass": "0.2 g"}  # fmt: skip
GLUE = {"material": "PEN film", "radius": "0.5 mm", "side": "inside"}
DISC = {"kind": "dome", "rim_diameter": "25 mm", "height": "0 mm"}
TIP = {"kind": "free", "r": ["0 mm", "12.5 mm"], "z": ["4 mm", "0 mm"], "corner_radius": "0 mm", **{
    key: [value] * 2 for key, value in (("zone", "cone"), *FILM.items())
}}  # fmt: skip


@pytest.mark.parametrize("corrected", [False, True], ids=["bare", "joints"])
@pytest.mark.parametrize(
    "file",
    [
        {"wall": FILM, "profile": DISC, "coil": COIL},
        {"wall": FILM, "profile": DISC, "coil": {**COIL, "fillet": GLUE}},
        {"profile": TIP, "coil": {"kind": "ring", "diameter": "12 mm", "mass": "0.1 g"}},
    ],
    ids=["disc", "with-glue", "cone-to-its-tip"],
)
def test_shift_and_rocking_cost_nothing(file, corrected):
    """Straight walls, on which quadratic elements hold both motions exactly: what is left is rounding, 0.008 Hz. Glue
    that did not move around with its joint made the rocking 39 Hz, a tip whose q followed as on a flat wall 1.7 Hz."""
    structure = build_shell(design_from(file), corrected=corrected).structure(1)
    pairs = eigenpairs_below(structure.stiffness, structure.mass, (2 * np.pi * 20e3) ** 2)
    hz = np.sqrt(np.maximum(pairs.squares, 0.0)) / (2 * np.pi)
    assert structure.rigid_modes == 2 and hz[2] > 100
    assert build_shell(design_from(file), corrected=corrected).structure(2).rigid_modes == 0  # petals bend it
    assert hz[1] < 0.3


BESIDE = [{"coil.side": side} for side in ("inside", "outside")]
GLUED = {"material": "PEN film", "radius": "0.2 mm"}
LAID = [{"profile.surround.overlap": {"length": "0.8 mm", "side": side}} for side in ("front", "rear")]
STACK = {"wall": {"layers": [{"material": x, "thickness": "20 um"} for x in ("titanium", "PEN film", "titanium")]}}
COLLAR = {"coil.collar": {"length": "1 mm", "side": "inside"}}
PARTS = [
    *product(["metal_dome"], [{}, *BESIDE, *LAID, COLLAR, {"coil.fillet": GLUED}, STACK, {**STACK, **BESIDE[0]}]),
    *product(["soft_dome"], [{}, BESIDE[1]]),
    *product(["straight_v"], [{}, BESIDE[0], {**COLLAR, "coil.fillet": GLUED}, STACK]),
    *product(["stepped_v"], [{}, BESIDE[1]]),
]


@pytest.mark.parametrize("corrected", [False, True], ids=["bare", "joints"])
@pytest.mark.parametrize(("name", "changes"), PARTS)
def test_no_part_feels_that_it_is_moved_or_turned(name, changes, corrected):
    """On whatever elements, joints and layers. Bent elements held a rocking by up to 2e-13 of what its entries come to
    without their signs, a lap of two layers by 5e-12, a former beside the drive circle by 6e-11."""
    drawn = load_design(STUDIES / f"{name}.toml", changes)
    model = build_shell(replace(drawn, inner_edge=drawn.inner_edge and FREE, outer_edge=FREE), corrected=corrected)
    for m in (0, 1):
        structure = model.structure(m)
        assert structure.rigid_modes == m + 1
        for moved in rigid_motions(model, m):
            held = moved @ (structure.stiffness @ moved)
            assert abs(held) < 1e-15 * (np.abs(moved) @ (abs(structure.stiffness) @ np.abs(moved)))


def test_a_wall_aside_is_strained_as_its_own_middle_is():
    """By v + a q and w + a t_z b, as a rigid section carries them; what the line is strained is that less a times the
    bending (derived here). No rigid motion turns a cylinder by q, so none feels whether v has its share."""
    model = build_shell(load_design(STUDIES / "straight_v.toml", {"coil.side": "outside"}), corrected=False)
    former = np.flatnonzero(model.line.stiff.aside[:, 0])
    points, m = model.line.stiff.picked((..., former, slice(None))), 2
    found = model.line.order_terms(m).strain[:, :, former].reshape(8, 5, 3, len(former), -1)
    shape, slope = (local_field(x, "uvwbq") for x in (points.shape, points.slope))
    own = stacked(strains(shape, slope, points.at, m), points.shape, "uvwbq").reshape(found.shape)
    aside = model.line.stiff.aside[former]
    own[:, Q] += aside * own[:, V]
    own[:, B] += aside * points.at.t_z * own[:, W]
    own[:3] -= aside * own[3:6]
    assert len(former) and np.abs(found - own).max() < 1e-13 * np.abs(own).max()


def rigid_motions(model, m):
    """The axial shift, or sideways shift and rocking, on the unknowns of an order."""
    line, numbering = model.line, model.line.order_terms(m).numbering
    if m == 0:
        fields = np.zeros((1, 5, 3, len(line.mesh.piece_of_element)))
        fields[:, 2] = 1.0
    else:
        at = line.nodal
        rocked = rocking(at.r - line.stiff.aside.T, at.z, at.t_r).reshape(5, 3, -1)
        rocked[:2] += np.reshape([1.0, -1.0], (2, 1, 1)) * at.z[2]  # about the same height everywhere
        fields = np.stack((np.zeros_like(rocked), rocked))
        fields[0, :2] = np.reshape([1.0, -1.0], (2, 1, 1))
    raw = np.zeros((len(fields), 5, line.nodes))
    raw[..., line.mesh.nodes] = fields
    raw, some = raw.reshape(len(fields), -1), (numbering.unknown >= 0) & (numbering.factor == 1)
    found = np.zeros((len(fields), numbering.size))
    found[:, numbering.unknown[some]] = raw[:, some]
    return found


@pytest.mark.parametrize(
    ("outer", "height", "held", "free"),
    [("20 mm", "0 mm", "both", 1), ("20 mm", "3 mm", "both", 0), ("10 mm", "5 mm", "outer", 1)],
)
def test_edges_held_radially_leave_a_rocking_where_they_lie_in_one_plane(outer, height, held, free):
    """u = z and w = -r: about the plane of both edges neither moves radially, nor does the one that alone is held, of
    whatever slope. The count is that of the matrices."""
    ring = {"kind": "free", "r": ["8 mm", outer], "z": ["0 mm", height], "zone": ["wall"] * 2,
            "material": [FILM["material"]] * 2, "thickness": [FILM["thickness"]] * 2}  # fmt: skip
    edges = {name: {"radial": "held"} if held in ("both", name) else "free" for name in ("inner", "outer")}
    file = {"profile": ring, "coil": {"kind": "ring", "diameter": "16 mm", "mass": "0.1 g"},
            "edges": edges}  # fmt: skip
    structure = build_shell(design_from(file)).structure(1)
    assert structure.rigid_modes == free
    pairs = eigenpairs_below(structure.stiffness, structure.mass, (2 * np.pi * 20e3) ** 2)
    assert (pairs.frequency_hz < 1.0).sum() == free


def test_glue_is_a_ring_at_its_centroid():
    """It has its whole mass (Pappus) in each motion, cos^2 of it, u = -m v stretches no circle, and it loses as its
    material does: E (1 + i eta)."""
    bead = design_from({"wall": FILM, "profile": DISC, "coil": {**COIL, "fillet": GLUE}}).beads[0]
    bead = replace(bead, material=Material("glue", 1200.0, 3e9, 0.38, LossFactor((0.04,))))
    terms = bead_terms(bead, 0, *np.eye(3), 3, np.pi)
    assert terms[0].law(np.array([300.0])) == pytest.approx(1 + 0.04j)
    stiffness, mass = (term.matrix.toarray() for term in terms)
    np.testing.assert_allclose(mass, bead_mass(bead) / 2 * np.eye(3), rtol=1e-12)
    area, radius, _ = bead_section(bead)
    assert stiffness[0, 0] == pytest.approx(np.pi * bead.material.youngs_modulus * area / radius, rel=1e-12)
    assert np.abs(stiffness @ [3.0, -1.0, 1.0]).max() < 1e-12 * stiffness[0, 0]


def test_a_plain_ring_is_one_at_its_circle():
    """Its whole mass in each motion, cos^2 of it, and u = -m v stretches no circle."""
    ring = Ring(3e-4, 2e5)
    stiffness, mass = (term.matrix.toarray() for term in ring_terms(ring, *np.eye(3), 12e-3, 3, np.pi))
    np.testing.assert_allclose(mass, ring.mass / 2 * np.eye(3), rtol=1e-12)
    assert stiffness[0, 0] == pytest.approx(np.pi * ring.hoop_stiffness / 12e-3, rel=1e-12)
    assert np.abs(stiffness @ [3.0, -1.0, 1.0]).max() < 1e-12 * stiffness[0, 0]


@pytest.mark.parametrize("m", [1, 2])
def test_a_winding_is_stretched_as_its_wall_is(m):
    """E A/L times the square of the wall's own strain around, at the points where the wall has it."""
    line = build_shell(design_from({"wall": FILM, "profile": DISC, "coil": COIL})).line
    order = line.order_terms(m)
    (wound,) = windings(line, order)
    (pick,) = (own for piece, own in zip(line.mesh.pieces, line.mesh.elements, strict=True) if piece.winding)
    around, band = order.strain[STRAINS.index("e_th")][:, pick], order.around * (line.stiff.at.weight * line.stiff.at.r)
    stretched = np.einsum("feq,geq,eq->efg", around, around, band[pick])
    length = line.stiff.at.weight[pick].sum()
    np.testing.assert_allclose(wound.blocks[0], wound.winding.hoop_stiffness / length * stretched, rtol=1e-12)
