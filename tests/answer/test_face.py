"""The motion of the front face, point by point, sums up to the effective area."""

import numpy as np
from places import STUDIES

from diaphragm_fem.analysis.response import respond
from diaphragm_fem.answer.face import face_of
from diaphragm_fem.answer.quick import quick
from diaphragm_fem.design.read.read import load_design


def test_the_face_sweeps_the_effective_area():
    """sum of area times normal motion = S: two ways through the same shape functions, the points one quadrature
    of the middle of the walls, by which bare ones sweep."""
    solution = quick(load_design(STUDIES / "stepped_v.toml"), corrected=False).solution
    face = face_of(solution)
    curve = solution.reduced.curve(face.frequency_hz)
    low = abs(curve.low.sum())
    assert np.abs(face.area @ face.motion - curve.total).max() < 5e-5 * np.maximum(np.abs(curve.total), low).max()
    assert face.frequency_hz[0] == 20.0 and face.frequency_hz[-1] == 20e3
    assert {"outer driven zone", "inner surround"} <= set(face.zone) and "former" not in face.zone


def test_the_face_is_that_of_the_direct_solve():
    solution = quick(load_design(STUDIES / "metal_dome.toml")).solution
    structure, f = solution.structure, np.array([500.0, 15e3])
    face = face_of(solution, f)
    motion = respond(structure, f)
    surface = structure.surface
    front = surface.area > 0
    normal = surface.normal[front, :1] * (surface.motion_r[front] @ motion)
    normal = normal + surface.normal[front, 1:] * (surface.motion_z[front] @ motion)
    exact = normal / (structure.pickup @ motion)
    assert np.abs(face.motion - exact).max() < 1e-5 * np.abs(exact).max()  # measured 2.3e-6, of the quick path's basis
