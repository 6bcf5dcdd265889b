"""One variant of a design, solved while somebody waits: its section, response, area, figures, and level in a driver."""

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.analysis.curve.curve import Curve
from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.analysis.solution import Solution
from diaphragm_fem.answer.driver.curve import driver_scan
from diaphragm_fem.answer.driver.figures import DriverFigures, driver_figures
from diaphragm_fem.answer.driver.loaded import Loaded, load_design_on
from diaphragm_fem.answer.machine.cores import one_thread
from diaphragm_fem.answer.quick import Quick, quick, quick_from
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.design import Design

POINTS = 240  # of the area curve: as many as a panel has room for


@dataclass(frozen=True, eq=False)
class Explored:
    """A variant by the shell on one mesh.

    curve: its area curve; plateau: low area over moving mass, what the response is told against; figures, in vacuum;
    driver: those with everything on; level_db (F,) at level_hz (F,), dB re 20 uPa at the exit of its driver. The last
    three are None without one.
    """

    design: Design
    solution: Solution
    curve: Curve
    plateau: float
    figures: Figures
    driver: DriverFigures | None = None
    level_hz: Array | None = None
    level_db: Array | None = None

    def motion(self, frequency_hz: float) -> tuple[Complex, Complex]:
        """Radial and axial motion (P,) of the surface over the coil's at a frequency in Hz."""
        surface, reduced = self.solution.structure.surface, self.solution.reduced
        rows = np.vstack((np.eye(reduced.small.size), reduced.small.pickup))
        found = reduced.outputs(rows, np.array([frequency_hz]))[:, 0]
        moved = reduced.basis @ (found[:-1] / found[-1])
        return surface.motion_r @ moved, surface.motion_z @ moved


@one_thread
def explore(design: Design, *, up_to_hz: float = 20e3) -> Explored:
    """Solve a variant. Raises AnalysisError without a drive; design, mesh and model errors pass through."""
    loaded: Loaded | None = None
    if design.driver is None:
        found: Quick = quick(design, up_to_hz=up_to_hz)
    else:
        loaded = load_design_on(design, up_to_hz=up_to_hz)
        found = quick_from(loaded.solution)
    solution, figures = found.solution, found.figures
    driver = level_hz = level = None
    if loaded is not None:
        scan = driver_scan(loaded)  # 20 ms more than 160 even points, which missed peaks by up to 2.5 dB
        driver = driver_figures(loaded, scan)
        level, level_hz = scan.level_db, None if scan.level_db is None else scan.frequency_hz
    return Explored(design, solution, solution.curve(POINTS), figures.plateau, figures, driver, level_hz, level)
