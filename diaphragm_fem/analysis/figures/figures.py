"""Figures on which a choice between designs can rest.

`definitions` says what each is. One that does not exist for a design is None, and `reasons` says why.
Definitions of this project; what is common practice is called so where it stands.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from diaphragm_fem.analysis.curve.curve import EvenedResponse
from diaphragm_fem.analysis.figures.break_up_mode import BreakUpMode
from diaphragm_fem.analysis.figures.definitions import DEFINITIONS
from diaphragm_fem.analysis.figures.response_bands import Band, Extreme, Shelves
from diaphragm_fem.analysis.figures.zones import Departure, StepFigures
from diaphragm_fem.errors import echo, nearest


@dataclass(frozen=True)
class Figures:
    """Every figure of one design and what it was read from; figures in SI units, dB and octaves.

    values: each name of DEFINITIONS -> value or None; reasons: why, for those that are None. steps, departures,
    break_up_mode, shelves, peaks and holes, even_band and shelf_band hold the particulars and the near misses; measures
    the smooth measures of the bands that were named.
    notes say what a reader must know, such as a plateau that is not reached.
    """

    values: Mapping[str, float | None]
    reasons: Mapping[str, str]
    steps: tuple[StepFigures, ...]
    departures: tuple[Departure, ...]
    break_up_mode: BreakUpMode
    shelves: Shelves | None
    peaks: tuple[Extreme, ...]
    holes: tuple[Extreme, ...]
    even_band: Band | None
    shelf_band: Band | None
    evened: EvenedResponse | None
    top_hz: float
    measures: Mapping[str, float]
    notes: tuple[str, ...] = ()

    @property
    def plateau(self) -> float:
        """What levels of the response per newton are told against; 1 where nothing moves air."""
        return 1.0 if self.evened is None else self.evened.plateau

    def __getattr__(self, name: str) -> float | None:
        """A figure by its name: figures.departure_hz."""
        if name.startswith("_"):
            raise AttributeError(name)
        if name not in DEFINITIONS:
            raise AttributeError(f"there is no figure {echo(name)}; {nearest(name, DEFINITIONS)}")
        return self.values[name]

    def __dir__(self) -> list[str]:
        return sorted({*super().__dir__(), *DEFINITIONS})

    def __str__(self) -> str:
        """A line for each figure: its value, or why it does not exist."""
        return "\n".join(
            f"{name}: {self.reason(name) if value is None else f'{value:.6g}'}" for name, value in self.table().items()
        )

    @property
    def low_area_m2(self) -> float:
        """Never absent."""
        return float(self.values["low_area_m2"] or 0.0)

    def table(self) -> dict[str, float | None]:
        """Flat table: name with unit -> value, those of single steps and zones as 'decoupling_hz:outer step', smooth
        measures as 'mean_level_db:NAME OF BAND' and 'share_rms:NAME OF BAND, ZONE'."""
        flat = dict(self.values)
        for step in self.steps:
            flat[f"decoupling_hz:{step.name}"] = step.decoupling_hz
            flat[f"handed_over_hz:{step.name}"] = step.handed_over_hz
        for departure in self.departures:
            flat[f"departure_hz:{departure.zone}"] = departure.departure_hz
        return flat | dict(self.measures)

    @property
    def never(self) -> dict[str, float]:
        """What does not come, and up to which frequency in Hz it was sought: by that it is judged, for a part in which
        it does not come is better there than one in which it does. What else does not exist is wanting."""
        found = {f"departure_hz:{one.zone}": self.top_hz for one in self.departures if one.follows}
        if found and len(found) == len(self.departures):
            found["departure_hz"] = self.top_hz
        if self.break_up_mode.frequency_hz is None:
            found["break_up_mode_hz"] = self.break_up_mode.sought_hz
        return found

    def at_least(self, name: str) -> bool:
        """Whether a figure is the width of a band that touches the end of the range, and may be larger."""
        band = {"even_band_octaves": self.even_band, "shelf_band_octaves": self.shelf_band}.get(name)
        return band is not None and band.at_least

    def reason(self, name: str) -> str:
        """Why a figure is None, "" where it is not."""
        stem, _, part = name.partition(":")
        if not part:
            return self.reasons.get(name, "") if self.values.get(name) is None else ""
        for step in self.steps:
            if step.name == part:
                return step.decoupling_reason if stem == "decoupling_hz" else "; ".join(step.handed_over_reasons)
        none = f"the design has no {part}" + " that sweeps an area" * (stem == "departure_hz")
        return next((one.reason for one in self.departures if one.zone == part), none)

    @property
    def first_to_leave(self) -> Departure | None:
        """The driven zone whose departure is the headline."""
        left = [one for one in self.departures if one.departure_hz is not None]
        return min(left, key=lambda one: one.departure_hz or 0.0, default=None)
