"""Evaluations that the report tests share; each is solved once per run."""

from dataclasses import replace
from functools import cache

from places import STUDIES

from diaphragm_fem.answer.change.levers import Lever
from diaphragm_fem.answer.change.sensitivity import Sensitivities, Sensitivity
from diaphragm_fem.answer.evaluate import Answer, evaluate
from diaphragm_fem.answer.trust.second_opinion import OpinionRow, SecondOpinion
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.report.sheets.listing import sheet_named
from diaphragm_fem.report.sheets.sheet import draw_sheet


def sheet(listing, name, answer, stamp=None):
    """One sheet of a list, drawn."""
    return draw_sheet(sheet_named(listing, name), answer, stamp)


@cache
def stepped_v() -> Answer:
    """The shipped stepped V, with a second opinion made up so that no test of words waits for the solid."""
    found = evaluate(load_design(STUDIES / "stepped_v.toml"), orders=range(3), second_opinion=False)
    first = found.modes[0].frequency_hz[:3].tolist()
    rows = tuple(OpinionRow(0, k + 1, f, k + 1, f / 1.001, 1.0) for k, f in enumerate(first))
    return replace(found, second_opinion=SecondOpinion(rows), warnings=("a warning with its number 7",))


@cache
def metal_dome() -> Answer:
    return evaluate(load_design(STUDIES / "metal_dome.toml"), orders=range(2), up_to_hz=15e3, second_opinion=False)


@cache
def undriven_disc() -> Answer:
    """A clamped disc without a coil: modes alone."""
    import numpy as np
    from free_designs import free_design

    from diaphragm_fem.design.library.library import load_materials
    from diaphragm_fem.design.meridian.edge import CLAMPED

    film = load_materials()["PEN film"]
    disc = free_design(
        np.array([0.0, 0.02]), np.zeros(2), 0.2e-3, film, name="disc", inner_edge=None, outer_edge=CLAMPED
    )
    return evaluate(disc, orders=(0, 1), up_to_hz=5e3, second_opinion=False)


def with_levers(answer: Answer) -> Answer:
    """The answer with made-up changes per tenth of three levers, one of which is refused."""
    base = dict(answer.figures.table())
    known = [name for name, value in base.items() if value]
    rows = [
        Sensitivity(Lever("wall.thickness", 5e-5, "length"), {name: 0.03 * base[name] for name in known}, 0.1),
        Sensitivity(Lever("modulus of PEN film", 6e9, "modulus"), {name: -1e-4 * base[name] for name in known}, 0.1),
        Sensitivity(Lever("profile.inner.rise", 1e-3, "length"), {}, None, "the flank must rise"),
    ]
    return replace(answer, sensitivities=Sensitivities(base, tuple(rows)))


MARKUP = "</script><script>document.title='taken'</script><img src=x onerror=document.title='taken'>&amp;"


@cache
def named_with_markup() -> Answer:
    """The metal dome, itself and its zones named so that a careless page would run it."""
    design = load_design(STUDIES / "metal_dome.toml")
    pieces = tuple(replace(piece, zone=replace(piece.zone, name=MARKUP)) for piece in design.meridian)
    return evaluate(replace(design, name=MARKUP, meridian=pieces), orders=(0,), up_to_hz=15e3, second_opinion=False)
