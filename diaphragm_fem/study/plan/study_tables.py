"""The tables of a study file, each key with what it is for: what a file is checked against and an editor told."""

from typing import Annotated, Any, Literal, TypeAlias

from pydantic import ConfigDict, Field

from diaphragm_fem.analysis.figures.definitions import DEFINITIONS, EVEN_DB, MEASURES, OF_ZONES, OVER_BANDS, SUM_OWN
from diaphragm_fem.design.spec.quantities import Table as DesignTable
from diaphragm_fem.design.spec.quantities import maybe, told
from diaphragm_fem.study.plan.amount import Written
from diaphragm_fem.study.plan.constraint import MOST_CONSTRAINTS
from diaphragm_fem.study.plan.sampling import MOST_CASES

Amount = str | float | int
Aim = Literal["high", "low"]
Count = Annotated[int, Field(ge=1, le=MOST_CASES)]
Positive = Annotated[float | int, Field(gt=0, allow_inf_nan=False)]
Ends = Annotated[list[Amount], Field(min_length=2, max_length=2)]


class Table(DesignTable):
    model_config = ConfigDict(strict=True)


class MeanSpread(Table):
    """Numbers of a distribution about its mean."""

    mean: Amount | None = maybe("Mean; the base design's own value where not given.")
    deviation: Amount = told('Standard deviation, such as "0.05 mm" or "3 %" of the mean.')


class UniformSpread(Table):
    """Numbers of a distribution that has ends alone."""

    low: Amount = told("Lowest value.")
    high: Amount = told("Highest value.")


class PeakSpread(Table):
    """Numbers of a distribution with ends and a peak."""

    low: Amount = told('Lowest value; "-3 %" is below the peak.')
    peak: Amount | None = maybe("Likeliest value; the base design's own where not given.")
    high: Amount = told('Highest value; "3 %" is above the peak.')


Spread: TypeAlias = MeanSpread | UniformSpread | PeakSpread


class VaryTable(Table):
    key: str | list[str] = told('Key of the design that varies, such as "wall.thickness"; of a list all get one value.')
    list_: Annotated[list[Written], Field(min_length=1)] | None = maybe(
        "The values themselves: amounts or names.", alias="list"
    )
    range: Ends | None = maybe("Low and high end, in equal steps.")
    log_range: Ends | None = maybe("Low and high end, in equal ratios.")
    normal: MeanSpread | None = maybe("Manufacturing scatter: mean and deviation.")
    lognormal: MeanSpread | None = maybe("The same, never below zero: mean and deviation.")
    uniform: UniformSpread | None = maybe("Alike anywhere from low to high.")
    triangular: PeakSpread | None = maybe("Likeliest at its peak, from low to high.")
    ratio: float | int | None = maybe("A fixed ratio to what `of` names.")
    of: str | None = maybe("Values are ratios to this other thing that varies, or to this key.")
    count: Count | None = maybe("How many values a grid takes.")


class StudyTable(Table):
    base: str = told("Design file that the study starts from, beside the study file.")
    name: str = told("Name of the study in tables and figures.", default="")
    time_limit: Amount = told("Processor time of one case at most; on the clock ten times that.", default="60 s")
    night: bool = told("Whether the numbers of [night] replace those of [plan].", default=False)


class PlanTable(Table):
    how: Literal["grid", "latin hypercube", "sobol", "sensitivity", "table"] = told(
        "How cases are chosen.", default="grid"
    )
    cases: Count | None = maybe(
        "How many cases; a grid takes them from its counts, a sensitivity plan at most so many: a power of two times "
        "two more than what varies."
    )
    seed: Annotated[int, Field(ge=0)] = told("Of the random numbers: the same seed, the same cases.", default=1)
    table: str | None = maybe("CSV file of the cases, beside the study file.")


class NightTable(Table):
    cases: Count | None = maybe("How many cases by night.")
    count: dict[str, Count] = told("How many values of each thing that varies by night.", default_factory=dict)
    table: str | None = maybe("CSV file of the cases by night.")


class AboutTable(Table):
    about: Amount = told("Middle of a third of an octave.")


class WantTable(Table):
    bands: dict[str, list[Amount] | AboutTable] = told(
        'Bands of the smooth measures, by names of your own: two ends, ["200 Hz", "4 kHz"], or `about`.',
        default_factory=dict,
        max_length=100,
    )
    even: Positive = told("Total of the even band in dB.", default=EVEN_DB)
    figures: list[str] | None = maybe("The figures to keep; all where not given.")
    curves: list[Literal["area", "zones", "force", "response"]] = told(
        "Curves to keep of every case.", default=["area"]
    )
    modes: bool = told("Whether the frequencies of all modes are kept.", default=False)
    up_to: Amount = told("Top frequency of modes and curves.", default="20 kHz")
    points: Annotated[int, Field(ge=10, le=20000)] = told("Points of a curve.", default=400)
    orders: list[Annotated[int, Field(ge=0, le=40)]] = told("Circumferential orders of the modes.", default=[0])
    in_vacuum: bool = told("Whether a driver's part is solved alone, without what surrounds it.", default=False)
    joints: bool = told("Whether the shell knows of its ends, joints and thick walls.", default=True)


class WishTable(Table):
    figure: str = told("Name of a figure, such as shelf_band_octaves.")
    aim: Aim | Amount = told('"high", "low", or a value to come near to.', default="high")
    weight: Positive = told("How much this wish counts.", default=1.0)


class LimitTable(Table):
    above: Amount | None = maybe("The figure must lie above.")
    below: Amount | None = maybe("The figure must lie below.")


class MorningTable(Table):
    rank: str | None = maybe("A single figure to rank by.")
    aim: Aim | Amount = told('Of `rank`: "high", "low", or a value to come near to.', default="high")
    wish: list[WishTable] = told("The wish list.", default_factory=list)
    limits: dict[str, LimitTable] = told("Hard limits of figures.", default_factory=dict)
    pareto: dict[str, Aim] = told(
        'Two or more figures to trade against each other, each with its aim: { moving_mass_kg = "low", ... }.',
        default_factory=dict,
    )
    best: Annotated[int, Field(ge=1, le=1000)] = told("How many designs are written as files.", default=5)
    drawn: dict[str, Amount | Annotated[list[Amount], Field(min_length=1)]] = told(
        'What a drawing can say of a thing that varies: a step such as "0.05 mm", or a list of gauges. Where not '
        "given, thicknesses go in steps of 1 um, other lengths of 0.01 mm, all else to three digits.",
        default_factory=dict,
    )


class StudyFile(Table):
    study: StudyTable = told("Which design, and what a case may cost.")
    change: dict[str, Any] = told("Keys of the base design that this study sets for all cases.", default_factory=dict)
    vary: Annotated[dict[str, VaryTable], Field(min_length=1)] = told("What varies, by names of your own.")
    plan: PlanTable = told("How cases are chosen.", default=PlanTable())
    night: NightTable = told("What differs in the long version.", default=NightTable())
    keep: dict[str, str] = told(
        "Constraints: a case that breaks one is discarded before it is solved.",
        default_factory=dict,
        max_length=MOST_CONSTRAINTS,
    )
    want: WantTable = told("What is kept of each case.", default=WantTable())
    morning: MorningTable = told("What is good: wishes, limits, trade-offs.", default=MorningTable())


def study_schema() -> dict[str, Any]:
    """The schema of the study file as data; figures are offered by name, others (of a zone, in a band) are taken."""
    from diaphragm_fem.design.spec.schema import schema_of  # here: no other table of a study needs it

    schema = schema_of(StudyFile, "Diaphragm study")
    banded = [f"{name}:BAND" + ", ZONE" * (name in OF_ZONES) for name in (*MEASURES, *OVER_BANDS)]
    offered = {"anyOf": [{"enum": [*DEFINITIONS, *OVER_BANDS, *SUM_OWN, *banded]}, {"type": "string"}]}
    for table, key in (("WishTable", "figure"), ("MorningTable", "rank")):
        schema["$defs"][table]["properties"][key] |= offered
        del schema["$defs"][table]["properties"][key]["type"]
    return schema
