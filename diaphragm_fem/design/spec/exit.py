"""Tables of where the channels lead: [exit] and [second_section]."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from diaphragm_fem.design.spec.quantities import (
    Area,
    Distance,
    Frequency,
    ListsTable,
    Number,
    PositiveLength,
    PositiveVolume,
    Seconds,
    Table,
    refuse,
)


class HornSpec(ListsTable):
    """A horn as area against distance from the exit; its mouth is a piston in a baffle."""

    distance: tuple[Distance, ...] = Field(description="Distances from the exit; the first is 0 mm.")
    area: tuple[Area, ...] = Field(description="Area at each distance; the diameter runs straight between them.")


class ImpedanceSpec(ListsTable):
    """An acoustic impedance over frequency."""

    frequency: tuple[Frequency, ...] = Field(description="Frequencies, rising.")
    resistance: tuple[Number, ...] = Field(description="Real part at each, in Pa s/m3.")
    reactance: tuple[Number, ...] = Field(description="Imaginary part at each, in Pa s/m3; positive for a mass.")


class ExitSpec(Table):
    """The exit, where the channels meet."""

    diameter: PositiveLength = Field(description="Diameter of the exit.")
    end: Literal["matched", "horn", "table"] = Field(
        "matched", description='"matched": an endless tube. "horn": give `horn`. "table": give `table`.'
    )
    horn: HornSpec | None = Field(None, description='Area against distance, with end = "horn".')
    table: ImpedanceSpec | None = Field(None, description='Impedance at the exit, with end = "table".')

    @model_validator(mode="after")
    def _end(self) -> ExitSpec:
        given = [key for key in ("horn", "table") if getattr(self, key) is not None]
        wanted = [key for key in ("horn", "table") if key == self.end]
        if given != wanted:
            needs = f"a table exit.{self.end}" if wanted else "neither exit.horn nor exit.table"
            received = " and ".join(f"exit.{key}" for key in given) or "none"
            raise refuse(f'end = "{self.end}" goes with {needs}; received {received}', key="end")
        return self


class BranchSpec(Table):
    """The branch of slots through which the second section joins the exit."""

    count: Annotated[int, Field(ge=1, strict=True)] = Field(description="Number of slots.")
    area: Area = Field(description="Area of each slot.")
    width: PositiveLength = Field(description="Width of each slot.")
    length: PositiveLength = Field(description="Length of each slot.")


class SourceSpec(ListsTable):
    """The second section as a source: blocked pressure behind an impedance."""

    frequency: tuple[Frequency, ...] = Field(description="Frequencies, rising.")
    blocked_pressure: tuple[Number, ...] = Field(description="Size of the blocked pressure at each, Pa per volt.")
    phase: tuple[Number, ...] = Field(description="Its phase at each, in degrees.")
    resistance: tuple[Number, ...] = Field(description="Real part of the impedance at each, in Pa s/m3.")
    reactance: tuple[Number, ...] = Field(description="Imaginary part at each, in Pa s/m3.")


class CrossoverSpec(Table):
    """A squared Butterworth pair: -6.02 dB and in phase at its frequency."""

    frequency: Frequency = Field(description="Frequency of the crossing.")
    order: Literal[2, 4, 8] = Field(4, description="Order of each filter.")
    polarity: Literal["same", "turned"] = Field("same", description="Polarity of the second section.")
    delay: Seconds | None = Field(None, description="Delay of the second section.")
    level: Annotated[float, Field(ge=-60, le=60)] = Field(0.0, description="Level of the second section in dB.")


class SecondSectionSpec(Table):
    """A lower section that shares the exit."""

    file: str | None = Field(
        None,
        description="Design file of the section, with its own motor, front and slots, in the air of this file; path "
        "relative to this file.",
    )
    table: SourceSpec | None = Field(None, description="In place of a file: the section as a source.")
    distance: PositiveLength = Field(description="Length of exit between where the channels meet and the junction.")
    slots: BranchSpec = Field(description="The branch of slots.")
    volume: PositiveVolume = Field(description="Volume of the chamber that the branch opens from.")
    crossover: CrossoverSpec = Field(description="Crossover between both sections.")

    @model_validator(mode="after")
    def _one(self) -> SecondSectionSpec:
        if (self.file is None) == (self.table is None):
            raise refuse("a second section needs its file or its table, and not both")
        return self
