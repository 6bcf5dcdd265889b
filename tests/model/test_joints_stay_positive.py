"""The corrected shell's stiffness stays positive on variants of the stepped V, thin films on thick rubber among
them."""

from pathlib import Path

import numpy as np
import pytest
from scipy.sparse import csc_matrix, csr_matrix, diags_array, eye_array
from scipy.sparse.linalg import splu

from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.structure import STIFFNESS, Structure

STEPPED_V = Path(__file__).parents[2] / "studies" / "stepped_v.toml"


def variant(number: int) -> tuple[dict[str, str], int, int]:
    """Changes of the stepped V, how finely to cut it, and the order m: the same for the same number. Treads from where
    joints are a few thicknesses apart, gauges from a sixth of their neighbour's to six times it."""
    rng = np.random.default_rng(number)
    changes = {"wall.thickness": f"{rng.uniform(25, 90):.6g} um"}
    for side in ("inner", "outer"):
        step = f"profile.{side}.steps[0]"
        changes[f"{step}.tread"] = f"{rng.choice([rng.uniform(0.3, 1), rng.uniform(1, 2)]):.6g} mm"
        changes[f"{step}.thickness"] = f"{rng.uniform(30, 200):.6g} um"
        changes[f"{step}.material"] = str(rng.choice(["damping elastomer", "PEN film", "nitrile rubber"]))
        changes[f"profile.{side}.surround.thickness"] = f"{rng.uniform(60, 220):.6g} um"
    changes["coil.former.thickness"] = f"{rng.uniform(35, 120):.6g} um"
    changes["coil.former.material"] = str(rng.choice(["aluminium alloy", "polyimide film", "titanium"]))
    return changes, int(rng.integers(1, 4)), int(rng.choice([0, 1, 2, 4]))


def is_positive(matrix: csr_matrix) -> bool:
    """Whether no eigenvalue of a matrix scaled to ones on its diagonal lies below -1e-13: its pivots have the signs of
    its eigenvalues (Sylvester's law of inertia)."""
    scale = diags_array(1 / np.sqrt(matrix.diagonal()))
    shifted = csc_matrix(scale @ matrix @ scale + 1e-13 * eye_array(matrix.shape[0]))
    pivots = splu(shifted, permc_spec="NATURAL", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    return bool((pivots.U.diagonal() > 0).all())


def stays_positive(structure: Structure) -> bool:
    """As it is, and with every material's modulus ten thousand times lower and thirty times higher."""
    parts = [term.matrix for term in structure.merged if term.derivatives == STIFFNESS]
    whole = sum(parts[1:], parts[0])
    cases = [whole, structure.mass, *(whole + (factor - 1) * one for one in parts for factor in (1e-4, 30.0))]
    return all(map(is_positive, cases))


@pytest.mark.parametrize("number", range(4))
def test_a_variant_stays_positive(number):
    """Of the first 306 none became indefinite; 0.3 to 1.5 s each, most of it for patches that are new."""
    changes, refine, m = variant(number)
    model = build_shell(load_design(STEPPED_V, changes), refine=refine, corrected=True)
    assert len(model.joints.joints) >= 7
    assert stays_positive(model.structure(m))


def test_what_is_not_positive_is_seen():
    good, bad = ([[1.0, x, 0.0], [x, 1.0, x], [0.0, x, 1.0]] for x in (0.7, 0.71))
    assert is_positive(csr_matrix(good)) and not is_positive(csr_matrix(bad))
