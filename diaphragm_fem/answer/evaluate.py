"""One design, everything: modes of every order, area curve, figures, error estimates, a second opinion."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from diaphragm_fem.analysis.curve.curve import Curve
from diaphragm_fem.analysis.curve.reduced import Reduced
from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.analysis.modes.modes import Modes
from diaphragm_fem.analysis.static import Static
from diaphragm_fem.answer.asked import check_asked, check_fineness, orders_asked
from diaphragm_fem.answer.change.sensitivities import sensitivities, trials_of_levers
from diaphragm_fem.answer.change.sensitivity import Sensitivities
from diaphragm_fem.answer.face import Face, face_of
from diaphragm_fem.answer.machine.cores import one_thread, others_begin
from diaphragm_fem.answer.quick import figures_of_solution
from diaphragm_fem.answer.trust.cautions import design_cautions, result_cautions
from diaphragm_fem.answer.trust.convergence import FREQUENCY_TOLERANCE, converge
from diaphragm_fem.answer.trust.poor_joints import near_another_drawing
from diaphragm_fem.answer.trust.second_opinion import SecondOpinion, ask_second_opinion
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.driver.driver import TABLES
from diaphragm_fem.design.read.read import DesignFile
from diaphragm_fem.errors import AnalysisError, MeshError
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.structure import Structure

if TYPE_CHECKING:
    from diaphragm_fem.answer.driver.driver import DriverAnswer
    from diaphragm_fem.answer.measured import Beside

ORDERS = range(5)
LEFT_OUT = "the driver is left out"


@dataclass(frozen=True, repr=False)
class Answer:
    """Everything found out about one design.

    modes and frequency_error go by circumferential order; frequency_error holds relative estimates, mode by mode.
    figures are the believed ones: the solid's where it differs from the shell by more than 2 %, else the shell's, which
    shell_figures are always. area, static and figures are None for a part without a drive.
    warnings are for the user, each with its numbers. sensitivities are None where not asked for or without a drive.
    face is how the front moves, point by point; driver is None where the file describes no surroundings.
    reduced answers at any frequency; None without a drive. corrected says whether the shell knew of ends, joints and
    the thickness of walls, bare_joints of how many joints it did not, for the solid cannot be cut there. measured are
    the curves that were put beside it.
    """

    design: Design
    mesh: MeridianMesh
    structures: Mapping[int, Structure]
    modes: Mapping[int, Modes]
    frequency_error: Mapping[int, Array]
    area: Curve | None
    area_error: float | None
    static: Static | None
    figures: Figures | None
    shell_figures: Figures | None
    second_opinion: SecondOpinion | None
    warnings: tuple[str, ...]
    up_to_hz: float
    tolerance: float
    refinement: int
    sensitivities: Sensitivities | None = None
    face: Face | None = None
    driver: DriverAnswer | None = None
    reduced: Reduced | None = None
    corrected: bool = True
    bare_joints: int = 0
    measured: tuple[Beside, ...] = ()

    def __repr__(self) -> str:
        counted = ", ".join(f"m = {m}: {len(modes)}" for m, modes in self.modes.items())
        return f"<Answer of '{self.design.name}' up to {self.up_to_hz:.0f} Hz; modes of {counted}>"


@one_thread
def evaluate(
    design: Design,
    *,
    up_to_hz: float = 20e3,
    orders: Iterable[int] = ORDERS,
    points: int = 400,
    tolerance: float = FREQUENCY_TOLERANCE,
    second_opinion: bool = True,
    corrected: bool = True,
    wall_in_air: bool = False,
    file: DesignFile | None = None,
) -> Answer:
    """Evaluate a design with the shell model, refined until its error estimates meet the tolerance.

    up_to_hz bounds the modes and the area curve; `points` is the size of the curve; `tolerance` is relative, on
    every frequency (ten times it on the area curve, of the larger of |S| and the area at rest). The second opinion
    solves the first modes and the figures again as a solid. With `corrected` False the shell is the bare theory,
    which knows nothing of ends, joints and the thickness of walls. `wall_in_air` solves a driver's wall and the air
    of its gap in two dimensions as one besides. A driver whose gap or slots cannot be drawn is left out, with a
    warning, where that was not asked for. `file`, as `read_design_file` gives it with the design, asks for its
    sensitivities too.

    Raises AnalysisError for what is asked wrongly, MeshError and ModelError for what cannot be cut or set up.
    """
    check_asked(design, up_to_hz)
    check_fineness(points, tolerance)
    if file is not None and file.design != design:
        raise AnalysisError("file must be that of the design, as in evaluate(file.design, file=file)")
    orders = orders_asked(orders, least=0)
    found = converge(design, orders, up_to_hz, points, tolerance, corrected)
    level, solution = found.level, found.level.solution
    figures = None if solution is None else figures_of_solution(solution)
    driver = trials = moves = None
    left_out: tuple[str, ...] = ()
    if file is not None and solution is not None:
        trials = trials_of_levers(file, up_to_hz=up_to_hz, corrected=corrected)
    ask = partial(ask_second_opinion, design, level.structures, level.modes, figures, up_to_hz=up_to_hz)
    work: list[Callable[[], Any]] = [ask] if second_opinion else []  # first: the longest, and large, goes to a child
    work += trials.work if trials else ()
    with others_begin(lambda one: one(), work) as answers:
        if design.driver is not None and solution is not None:
            from diaphragm_fem.answer.driver.driver import answer_driver

            try:
                driver = answer_driver(
                    design, up_to_hz=up_to_hz, points=points, refine=level.refinement, second_opinion=second_opinion,
                    wall_in_air=wall_in_air, corrected=corrected,
                )  # fmt: skip
            except MeshError as error:  # the part is worth its answer without a chamber that cannot be drawn
                if wall_in_air:
                    raise
                left_out = (f"{LEFT_OUT}: {error}",)
        cautions = result_cautions(found, tolerance)
        if file is not None:  # pages, sheets and numbers ask for losses, each in a process of its own: 0.2 of 8 s
            _ = [modes.loss_factor for modes in level.modes.values()]
        tried = answers()
    opinion, remarks = tried.pop(0) if second_opinion else (None, ())
    if trials and not left_out:
        moves = trials.table(tried)
    elif trials and file is not None:
        data = {key: value for key, value in file.data.items() if key not in TABLES}
        alone = replace(file, data=data, design=replace(file.design, driver=None))
        moves = sensitivities(alone, up_to_hz=up_to_hz, corrected=corrected)
    believed = figures
    if opinion is not None and opinion.figures is not None and opinion.differing:
        believed = opinion.figures
    notes = figures.notes if figures else ()
    drawn = (*design.unusual, *design_cautions(design, up_to_hz), *near_another_drawing(design))
    warnings = (*left_out, *notes, *drawn, *cautions, *level.remarks, *remarks)
    return Answer(
        design, level.mesh, level.structures, level.modes, found.frequency_error, found.area, found.area_error,
        None if solution is None else solution.static, believed, figures, opinion, warnings, up_to_hz, tolerance,
        level.refinement, sensitivities=moves, face=None if solution is None else face_of(solution), driver=driver,
        reduced=None if solution is None else solution.reduced, corrected=corrected, bare_joints=len(level.remarks),
    )  # fmt: skip
