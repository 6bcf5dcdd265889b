"""What moves on a page: a driven design's reduced model with its curves and zones, and where the look begins."""

from typing import Any

import numpy as np

from diaphragm_fem.analysis.curve.curve import Curve, decibels
from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.design.design import Design
from diaphragm_fem.report.looks import zone_looks
from diaphragm_fem.report.page.motion import motion_of, surface_of
from diaphragm_fem.report.page.packing import Packed, packed
from diaphragm_fem.report.page.surroundings import surroundings_of
from diaphragm_fem.report.words.figures import MARKS
from diaphragm_fem.report.words.heard import spots
from diaphragm_fem.report.words.sentences import judged
from diaphragm_fem.report.words.words import show_band


def moving_data(evaluation: Answer) -> dict[str, Any]:
    """The reduced model of a driven design, its curves and where the page begins to look, of a driver with everything
    on at the first place of its level that is told, of two sections where both are lowest; nothing without a drive."""
    area, reduced, figures, driver = evaluation.area, evaluation.reduced, evaluation.figures, evaluation.driver
    if area is None or reduced is None:
        return {}
    plateau, fundamental = (1.0, None) if figures is None else (figures.plateau, figures.fundamental_hz)
    from_hz = float(area.frequency_hz[0])
    data: dict[str, Any] = {
        "model": motion_of(reduced if driver is None else driver.loaded.reduced, from_hz),
        "curve": _curve(area, plateau), "plateau": plateau, "low_area_m2": abs(float(area.low.sum())),
        "start_hz": max(from_hz, (fundamental or 0.0) / 3), "look_hz": _look_at(evaluation, area),
        "marks": [] if figures is None else _marks(figures), "band": None if figures is None else _band(figures),
    }  # fmt: skip
    if driver is not None:
        loaded, sections = driver.figures.loaded, driver.sections
        both = [sections.lowest[0]] if sections is not None and sections.crosses else []
        told = (*both, *(spot.frequency_hz for spot in spots(driver)), loaded.departure_hz, data["look_hz"])
        data["around"] = surroundings_of(driver, from_hz) | {
            "marks": _marks(loaded), "share": _share(driver.curve.area), "look_hz": next(filter(None, told)),
        }  # fmt: skip
    return data


def body_of(evaluation: Answer) -> dict[str, Any]:
    """What there is to see of a part at rest: zones, which edges are held in any way, glue and, where any order was
    asked, its surface."""
    design = evaluation.design
    zones = [
        {"name": one.name, "role": str(one.role), "side": one.side, "step": one.step, "look": look}
        for one, look in zip(design.zones, zone_looks(design.zones), strict=True)
    ]
    edges = {"inner": design.inner_edge, "outer": design.outer_edge}
    held = {side: edge is not None and bool(edge.axial or edge.radial) for side, edge in edges.items()}
    data = {"zones": zones, "edges": held, "glue": glue_of(design)}
    one = next(iter(evaluation.structures.values()), None)
    return data if one is None else {**data, "surface": surface_of(one.surface)}


def glue_of(design: Design) -> list[list[list[float]]]:
    """Outlines of the glue at the former, each a list of points [r, z] in m, to the nanometre."""
    outlines = [[curve.point(np.linspace(0, curve.length, 7)[:-1]) for curve in bead.outline] for bead in design.beads]
    return [np.concatenate(outline).round(9).tolist() for outline in outlines]


def _curve(area: Curve, plateau: float) -> dict[str, Any]:
    data = {
        "hz": packed(area.frequency_hz), "total": packed(area.total),
        "share": _share(area),
        "response_db": packed(decibels(np.abs(area.response) / plateau), "f4"),
    }  # fmt: skip
    return data if area.absolute is None else {**data, "swept": packed(area.absolute, "f4")}


def _share(area: Curve) -> Packed:
    return packed(np.nan_to_num(area.share.real), "f4")


def _look_at(evaluation: Answer, area: Curve) -> float:
    """Where the page begins: where the band ends that the design is judged by, else where the coil is left, else in the
    middle of the range."""
    figures = evaluation.figures
    band = None if figures is None else judged(figures)
    if band is not None and band.ended_by is not None:
        return float(band.ended_by.frequency_hz)
    if figures is not None and figures.departure_hz is not None:
        return float(figures.departure_hz)
    return float(np.sqrt(area.frequency_hz[0] * area.frequency_hz[-1]))


def _marks(figures: Figures) -> list[dict[str, Any]]:
    table = figures.table()
    return [{"hz": table[name], "words": words} for name, words in MARKS.items() if table.get(name) is not None]


def _band(figures: Figures) -> dict[str, Any] | None:
    band = judged(figures)
    if band is None:
        return None
    which = "within 3 dB of its shelves" if band is figures.shelf_band else "even within 6 dB"
    return {"from": band.from_hz, "to": band.to_hz, "words": f"{which}: {show_band(band)}"}
