"""The door to gmsh: loaded where it is needed, silent, one model at a time, safe in threads. No other file knows it."""

import signal
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from math import pi
from types import ModuleType

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.drawing.curves import cubic_of
from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.design.meridian.outline import begin
from diaphragm_fem.errors import MeshError, lacks_memory

PACKAGES = "libglu1-mesa libgl1 libxcursor1 libxft2 libxinerama1 libgomp1"
_ONE_AT_A_TIME = threading.Lock()  # gmsh keeps one global state
MM = 1e3
ON_AXIS = 1e-9  # m
LONGEST_ARC = pi / 2  # rad: arcs are cut into shorter ones


def load_gmsh() -> ModuleType:
    """The gmsh module. Raises MeshError where it, or a system library it needs, is missing, MemoryError where there is
    no room for it."""
    try:
        import gmsh
    except OSError as error:
        if lacks_memory(error):
            raise MemoryError(str(error)) from error
        missing = str(error).split(":")[0]
        raise MeshError(
            f"the section mesher gmsh needs the system library {missing}, which is not installed; on Debian 12 run "
            f"'apt-get install {PACKAGES}'"
        ) from error
    except ImportError as error:
        raise MeshError("the section mesher gmsh is not installed; run 'pip install gmsh'") from error
    return gmsh


@contextmanager
def gmsh_model(name: str) -> Iterator[ModuleType]:
    """A silent gmsh with a fresh model, removed on leaving; safe in threads and workers."""
    gmsh = load_gmsh()
    with _ONE_AT_A_TIME:
        ours = not gmsh.isInitialized()
        if ours:
            gmsh.initialize(readConfigFiles=False, interruptible=False)
            _take_signals_back()
        gmsh.option.setNumber("General.Terminal", 0)
        gmsh.option.setNumber("General.NumThreads", 1)
        gmsh.option.setNumber("Mesh.ElementOrder", 2)
        gmsh.option.setNumber("Mesh.SecondOrderIncomplete", 0)
        gmsh.model.add(name)
        try:
            yield gmsh
        finally:
            gmsh.model.remove()
            if ours:
                gmsh.finalize()


def nodes_of(gmsh: ModuleType) -> tuple[Array, Index]:
    """The points (N, 3) of the mesh that was made, and the number of each by gmsh's own."""
    tags, places, _ = gmsh.model.mesh.getNodes()
    number = np.zeros(int(tags.max()) + 1, np.int64)
    number[tags] = np.arange(len(tags))
    return places.reshape(-1, 3), number


def _take_signals_back() -> None:
    """gmsh lets SIGTERM, SIGHUP and SIGPIPE end the process on the spot: give them back to whom they were given in
    Python, which ignores a closed pipe and raises an error instead."""
    if threading.current_thread() is threading.main_thread():
        for name in ("SIGTERM", "SIGHUP", "SIGPIPE"):
            number = getattr(signal, name, None)
            if number is not None and (handler := signal.getsignal(number)) not in (None, signal.SIG_DFL):
                signal.signal(number, handler)


def draw_face(gmsh: ModuleType, outline: Sequence[Curve]) -> int:
    """The plane face in the plane y = 0 that the curves bound, in millimetres; its tag."""
    occ = gmsh.model.occ
    curves = [part for curve in outline for part in _short(curve)]
    corners = [begin(curve) for curve in curves]
    points = [occ.addPoint(max(r, 0.0) * MM, 0, z * MM) for r, z in corners]
    tags = []
    for k, curve in enumerate(curves):
        a, b = points[k], points[(k + 1) % len(points)]
        if isinstance(curve, Line):
            tags.append(occ.addLine(a, b))
        elif isinstance(curve, Arc):
            r, z = curve.centre
            tags.append(occ.addCircleArc(a, occ.addPoint(r * MM, 0, z * MM), b))
        else:
            tags.append(_add_spline(occ, curve, a, b))
    return int(occ.addPlaneSurface([occ.addCurveLoop(tags)]))


def _short(curve: Curve) -> Iterator[Curve]:
    """An arc as arcs of a quarter turn at most; other curves as they are."""
    if isinstance(curve, Arc) and abs(curve.sweep) > LONGEST_ARC:
        count = int(abs(curve.sweep) / LONGEST_ARC) + 1
        for k in range(count):
            yield curve.part(curve.length * k / count, curve.length * (k + 1) / count)
    elif not (isinstance(curve, Line) and curve.length < ON_AXIS):
        yield curve


def _add_spline(occ: ModuleType, curve: Curve, a: int, b: int) -> int:
    knots, control = cubic_of(curve)
    inner = [occ.addPoint(r * MM, 0, z * MM) for r, z in control[1:-1].tolist()]
    steps = sorted(set(knots.tolist()))
    count = [4, *[1] * (len(steps) - 2), 4]
    return int(occ.addBSpline([a, *inner, b], degree=3, knots=steps, multiplicities=count))
