"""Axisymmetric finite-element modal analysis of loudspeaker diaphragms.

    import diaphragm_fem as dfem

    design = dfem.load_design("studies/stepped_v.toml")
    modes = dfem.solve_modes(design, orders=range(5), up_to_hz=20e3)
    area = dfem.solve_area(design)
    print(dfem.solve_figures(design))

Names are imported when first used, so that a quick command starts quickly.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

_HOMES = {
    "load_design": "diaphragm_fem.design.read.read",
    "read_design_file": "diaphragm_fem.design.read.read",
    "design_from": "diaphragm_fem.design.read.read",
    "load_materials": "diaphragm_fem.design.library.library",
    "solve_modes": "diaphragm_fem.answer.datasets",
    "solve_area": "diaphragm_fem.answer.datasets",
    "solve_figures": "diaphragm_fem.answer.datasets",
    "build_structure": "diaphragm_fem.answer.datasets",
    "evaluate": "diaphragm_fem.answer.evaluate",
    "answer_driver": "diaphragm_fem.answer.driver.driver",
    "slots_by_modes": "diaphragm_fem.load.slot_rule",
    "evaluate_stroke": "diaphragm_fem.answer.stroke.stroke",
    "plan_stroke": "diaphragm_fem.design.stroke_plan",
    "DiaphragmError": "diaphragm_fem.errors",
}

__all__ = ["__version__", *_HOMES]

if TYPE_CHECKING:
    from diaphragm_fem.answer.datasets import build_structure as build_structure
    from diaphragm_fem.answer.datasets import solve_area as solve_area
    from diaphragm_fem.answer.datasets import solve_figures as solve_figures
    from diaphragm_fem.answer.datasets import solve_modes as solve_modes
    from diaphragm_fem.answer.driver.driver import answer_driver as answer_driver
    from diaphragm_fem.answer.evaluate import evaluate as evaluate
    from diaphragm_fem.answer.stroke.stroke import evaluate_stroke as evaluate_stroke
    from diaphragm_fem.design.library.library import load_materials as load_materials
    from diaphragm_fem.design.read.read import design_from as design_from
    from diaphragm_fem.design.read.read import load_design as load_design
    from diaphragm_fem.design.read.read import read_design_file as read_design_file
    from diaphragm_fem.design.stroke_plan import plan_stroke as plan_stroke
    from diaphragm_fem.errors import DiaphragmError as DiaphragmError
    from diaphragm_fem.load.slot_rule import slots_by_modes as slots_by_modes


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'diaphragm_fem' has no attribute '{name}'")


def __dir__() -> list[str]:
    return sorted(__all__)
