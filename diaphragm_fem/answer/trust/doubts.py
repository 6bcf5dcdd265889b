"""Which figures depend strongly on a material number that is only assumed: no published source stands behind it."""

from collections.abc import Iterator
from dataclasses import replace

from diaphragm_fem.analysis.figures.definitions import AS_USUAL, apart
from diaphragm_fem.answer.driver.driver import quick_figures
from diaphragm_fem.answer.driver.loaded import load_design_on
from diaphragm_fem.answer.machine.cores import on_all_cores
from diaphragm_fem.answer.quick import quick
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.library.evidence import QUANTITIES
from diaphragm_fem.design.material.material import LossFactor, Material, Relaxation
from diaphragm_fem.design.wall_choice import with_material
from diaphragm_fem.errors import DiaphragmError

USUAL_RANGE = 0.2  # either way, where a number comes without one
LARGEST_POISSON_RATIO = 0.49


def doubtful_figures(design: Design, *, up_to_hz: float = 20e3, corrected: bool = True) -> frozenset[str]:
    """Names of the figures of a driven design that an unsourced number moves by more than 2 % within its own range,
    20 % either way where none is given; of a driver those with everything on too. The end farther off is tried, by the
    shell on one mesh.
    """

    def solved(one: Design) -> dict[str, float | None]:
        if one.driver is None:
            return quick(one, up_to_hz=up_to_hz, corrected=corrected).figures.table()
        found = load_design_on(one, up_to_hz=up_to_hz, corrected=corrected)
        return found.vacuum.quick(AS_USUAL).figures.table() | quick_figures(found).figures()

    def table(one: Design) -> dict[str, float | None]:
        try:
            return solved(one)
        except DiaphragmError:  # a number that the design does not bear tells nothing of its figures
            return base

    base = solved(design)
    tables = on_all_cores(table, [with_material(design, material) for material in _doubtful(design)])
    return frozenset(name for found in tables for name in base if apart(name, found.get(name), base[name]))


def _doubtful(design: Design) -> Iterator[Material]:
    """Each material of the design with one of its unsourced numbers at the farther end of its range."""
    for material in design.materials:
        for quantity in QUANTITIES:
            known = material.evidence.get(quantity)
            if known is not None and not known.doubtful:
                continue
            value = getattr(material, quantity)
            if isinstance(value, LossFactor):
                yield replace(material, loss_factor=_scaled(value, 1 + USUAL_RANGE))
            elif isinstance(value, Relaxation):  # the loss goes with the rise less one
                yield replace(material, loss_factor=replace(value, rise=1 + (1 + USUAL_RANGE) * (value.rise - 1)))
            if not isinstance(value, float | int):
                continue
            low, high = (known.range if known is not None else None) or (
                (1 - USUAL_RANGE) * value, (1 + USUAL_RANGE) * value
            )  # fmt: skip
            end = high if high - value >= value - low else low
            if quantity == "poisson_ratio":
                end = min(end, LARGEST_POISSON_RATIO)
            yield replace(material, **{quantity: end})  # type: ignore[arg-type]


def _scaled(loss_factor: LossFactor, factor: float) -> LossFactor:
    return replace(loss_factor, values=tuple(factor * value for value in loss_factor.values))
