"""Tables of where the channels lead: [exit] and [second_section]."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from diaphragm_fem.design.spec import quantities as kinds
from diaphragm_fem.design.spec.quantities import ListsTable, Table, maybe, refuse, told


class HornSpec(ListsTable):
    """A horn as area against distance from the exit; its mouth is a piston in a baffle."""

    distance: tuple[kinds.Distance, ...] = told("Distances from the exit; the first is 0 mm.")
    area: tuple[kinds.Area, ...] = told("Area at each distance; the diameter runs straight between them.")


class ImpedanceSpec(ListsTable):
    """An acoustic impedance over frequency."""

    frequency: tuple[kinds.Frequency, ...] = told("Frequencies, rising.")
    resistance: tuple[kinds.Number, ...] = told("Real part at each, in Pa s/m3.")
    reactance: tuple[kinds.Number, ...] = told("Imaginary part at each, in Pa s/m3; positive for a mass.")


class ExitSpec(Table):
    """The exit, where the channels meet."""

    diameter: kinds.PositiveLength = told("Diameter of the exit.")
    end: Literal["matched", "horn", "table"] | None = maybe(
        '"matched": an endless tube. "horn": give `horn`. "table": give `table`. Where absent, the one that is given; '
        'without either "matched".'
    )
    horn: HornSpec | None = maybe("A horn at the exit, as area against distance.")
    table: ImpedanceSpec | None = maybe("Impedance at the exit.")

    @model_validator(mode="after")
    def _end(self) -> ExitSpec:
        given = [key for key in ("horn", "table") if getattr(self, key) is not None]
        if self.end is None:
            if len(given) > 1:
                raise refuse("one of horn and table ends an exit; received both", key="end")
            return self
        wanted = [key for key in ("horn", "table") if key == self.end]
        if given != wanted:
            needs = f"a table exit.{self.end}" if wanted else "neither exit.horn nor exit.table"
            received = " and ".join(f"exit.{key}" for key in given) or "none"
            raise refuse(f'end = "{self.end}" goes with {needs}; received {received}', key="end")
        return self


class BranchSpec(Table):
    """The branch of slots through which the second section joins the exit."""

    count: Annotated[int, Field(ge=1, strict=True)] = told("Number of slots.")
    area: kinds.Area = told("Area of each slot.")
    width: kinds.PositiveLength = told("Width of each slot.")
    length: kinds.PositiveLength = told("Length of each slot.")


class SourceSpec(ListsTable):
    """The second section as a source: blocked pressure behind an impedance."""

    frequency: tuple[kinds.Frequency, ...] = told("Frequencies, rising.")
    blocked_pressure: tuple[kinds.Number, ...] = told("Size of the blocked pressure at each, Pa per volt.")
    phase: tuple[kinds.Number, ...] = told("Its phase at each, in degrees.")
    resistance: tuple[kinds.Number, ...] = told("Real part of the impedance at each, in Pa s/m3.")
    reactance: tuple[kinds.Number, ...] = told("Imaginary part at each, in Pa s/m3.")


class CrossoverSpec(Table):
    """A squared Butterworth pair: -6.02 dB and in phase at its frequency."""

    frequency: kinds.Frequency = told("Frequency of the crossing.")
    order: Literal[2, 4, 8] = told("Order of each filter.", default=4)
    polarity: Literal["same", "turned"] = told("Polarity of the second section.", default="same")
    delay: kinds.Seconds | None = maybe("Delay of the second section.")
    level: Annotated[float, Field(ge=-60, le=60)] = told("Level of the second section in dB.", default=0.0)


class SecondSectionSpec(Table):
    """A lower section that shares the exit."""

    file: str | None = maybe(
        "Design file of the section, with its own motor, front and slots, in the air of this file; path "
        "relative to this file."
    )
    table: SourceSpec | None = maybe("In place of a file: the section as a source.")
    distance: kinds.PositiveLength = told("Length of exit between where the channels meet and the junction.")
    slots: BranchSpec = told("The branch of slots.")
    volume: kinds.PositiveVolume = told("Volume of the chamber that the branch opens from.")
    crossover: CrossoverSpec = told("Crossover between both sections.")

    @model_validator(mode="after")
    def _one(self) -> SecondSectionSpec:
        if (self.file is None) == (self.table is None):
            raise refuse("a second section needs its file or its table, and not both")
        return self
