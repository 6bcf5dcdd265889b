"""The shell with its ends and joints against the solid, on random ordinary parts: Vs and domes of library films and
metals with elastomer half-rolls of 60 to 200 um, steps, formers of film and metal."""

import numpy as np
import pytest
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import eigsh

from diaphragm_fem.analysis.modes.damped import damped_modes
from diaphragm_fem.analysis.solution import solve
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.read.read import design_from
from diaphragm_fem.mesh.section import mesh_section
from diaphragm_fem.mesh.section_size import Grading
from diaphragm_fem.model.joint.moduli import MIDDLE_HZ
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.solid.solid import build_solid
from diaphragm_fem.model.structure import Structure

TOP_HZ = 14e3
LOSSY_TOP_HZ = 20e3
MODES = (8, 5, 5, 5, 5)  # of m = 0 to 4
# cells a quarter as long at corners as the solid's own, and smaller ones still about the middle that holds a thick wall
FINE = Grading(up_to_hz=TOP_HZ, corner=0.25, refine=1.5)
STIFF = ("aluminium alloy", "titanium", "magnesium alloy", "PET film", "PEN film", "PEI film", "PEEK film")
RUBBER = ("thermoplastic elastomer", "nitrile rubber", "butyl rubber")


def part(seed: int) -> Design:
    rng = np.random.default_rng(1000 + seed)

    def mm(low: float, high: float) -> str:
        return f"{rng.uniform(low, high):.6g} mm"

    def um(low: float, high: float) -> str:
        return f"{rng.uniform(low, high):.6g} um"

    film, rubber = str(rng.choice([*STIFF, "polyimide film"])), str(rng.choice(RUBBER))
    gauge = um(60, 200)

    def surround() -> dict:
        return {"kind": "half-roll", "width": mm(1.5, 4), "material": rubber, "thickness": gauge}

    former = {
        "material": str(rng.choice(["aluminium alloy", "titanium", "polyimide film"])), "thickness": um(35, 80)
    }  # fmt: skip
    if rng.random() < 0.4:
        profile = {"kind": "dome", "rim_diameter": mm(18, 50), "height": mm(3, 8), "surround": surround()}
        coil = {"former_height": mm(3, 6), "winding_mass": f"{rng.uniform(0.15, 0.8):.6g} g", "winding_height": "2 mm"}
        edges = {"outer": "clamped"}
    else:

        def flank() -> dict:
            width = rng.uniform(6, 12)
            found = {"width": f"{width:.6g} mm", "rise": mm(2, 6), "surround": surround()}
            if rng.random() < 0.6:
                step = {"distance": f"{width * rng.uniform(0.35, 0.6):.6g} mm", "tread": mm(0.5, 1.8)}
                step["rise"] = str(rng.choice(["0 mm", mm(0.1, 0.4)]))
                step["material"] = rubber if rng.random() < 0.5 else film
                found["steps"] = [step | {"thickness": um(60, 200)}]
            return found

        profile = {"kind": "v", "coil_diameter": mm(40, 70), "inner": flank(), "outer": flank()}
        coil = {"former_height": "5 mm", "winding_mass": f"{rng.uniform(0.8, 2):.6g} g", "winding_height": "2.5 mm"}
        edges = {"inner": "clamped", "outer": "clamped"}
    wall = {"material": film, "thickness": um(25, 90)}
    return design_from(
        {"name": "random", "wall": wall, "profile": profile, "coil": coil | {"kind": "former", "former": former},
         "edges": edges}
    )  # fmt: skip


def lowest(structure: Structure, count: int) -> np.ndarray:
    stiff, mass = csc_matrix(structure.stiffness_at(MIDDLE_HZ)), csc_matrix(structure.mass)
    squared = eigsh(stiff, count, mass, sigma=(2 * np.pi * 10) ** 2, v0=np.ones(structure.size))[0]
    found = np.sqrt(np.sort(squared)) / (2 * np.pi)
    return found[found < TOP_HZ]


def test_a_former_that_ends_in_a_thick_wall_bends_as_the_solids():
    """Titanium of 40 um under a steep cone of 76 um, the mode of m = 3 that bends the former most: measured 2e-4, and
    2.3e-3 where the section that it lacks in the wall is not taken off at its very end."""
    design = part(21)
    exact = lowest(build_solid(design, up_to_hz=2e3).structure(3), 1)
    ours = lowest(build_shell(design, up_to_hz=2e3, refine=2, corrected=True).structure(3), 1)
    assert ours == pytest.approx(exact, rel=1e-3)


@pytest.mark.long
@pytest.mark.parametrize("seeds", [range(k, k + 5) for k in range(0, 40, 5)], ids=lambda seeds: f"from-{seeds[0]}")
def test_random_parts_meet_the_solid(seeds):
    """Relative differences of the first eight modes of m = 0 and five of m = 1 to 4 to 14 kHz, 1,105 in all. Measured:
    0.6e-4 in the median, 95 % within 3.4e-4, worst 1.7e-3; 6 to 28 s a part on a machine under load."""
    errors = []
    for seed in seeds:
        design = part(seed)
        model = build_shell(design, up_to_hz=TOP_HZ, refine=2, corrected=True)
        solid = build_solid(design, mesh_section(design, grading=FINE))
        assert not model.joints.remarks
        for m, count in enumerate(MODES):
            exact = lowest(solid.structure(m), count)
            errors.append(np.abs(lowest(model.structure(m), count + 1)[: len(exact)] / exact - 1))
    every = np.concatenate(errors)
    assert len(every) > 120
    assert np.median(every) < 2e-4
    assert np.percentile(every, 95) < 1.5e-3
    assert every.max() < 3e-3


def damped(structure: Structure, up_to_hz: float) -> tuple[np.ndarray, np.ndarray]:
    """Frequencies in Hz and loss factors of the modes as they are with their losses: where two undamped ones come
    close, these turn into one another at a breath, and have no loss factors of their own."""
    modes = damped_modes(solve(structure, up_to_hz).reduced.small, 20.0, up_to_hz)
    return modes.frequency_hz, modes.loss_factor


@pytest.mark.long
def test_random_parts_lose_what_the_solid_loses():
    """Relative differences of the loss factors of all modes of m = 0 to 20 kHz of ten further parts, 268 in all, each
    paired with the nearest in frequency and loss. Measured: 0.04 % in the median, 95 % within 0.6 %, worst 1.5 %, on
    the usual mesh and on elements half as long alike. Usual meshes whose elements beside joints were as long as waves
    let them be were up to 12 % off (part 105). Part 100 was 10.5 % off at 6.4 kHz where what rubber lacks together
    with loads that its stretch does not bear was held at nothing. 42 s under load."""
    errors = {1: [], 2: []}
    for seed in range(100, 110):
        design = part(seed)
        fine = Grading(up_to_hz=LOSSY_TOP_HZ, corner=FINE.corner, refine=FINE.refine)
        frequency, loss = damped(build_solid(design, mesh_section(design, grading=fine)).structure(0), LOSSY_TOP_HZ)
        for refine, found in errors.items():
            shell = build_shell(design, up_to_hz=LOSSY_TOP_HZ, refine=refine, corrected=True).structure(0)
            own_frequency, own = damped(shell, 1.1 * LOSSY_TOP_HZ)
            away = 2 * np.abs(np.log(frequency[:, None] / own_frequency)) + np.abs(loss[:, None] - own)
            nearest = away.argmin(axis=1)
            assert len(set(nearest)) == len(nearest) > 10
            found.append(np.abs(own[nearest] / loss - 1))
    for found in errors.values():
        every = np.concatenate(found)
        assert len(every) > 240
        assert np.median(every) < 1.5e-3
        assert np.percentile(every, 95) < 0.015
        assert every.max() < 0.03
        assert found[0].max() < 5e-3  # measured 2.2e-3 and 1.4e-3
