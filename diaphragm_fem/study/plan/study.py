"""What a study is, once read and checked: things that vary, the recipe that makes a design from their values."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from functools import cached_property
from pathlib import Path
from typing import Any

from diaphragm_fem import __version__
from diaphragm_fem.analysis.figures.definitions import EVEN_DB, MEASURES, OVER_BANDS, SUM_BANDED, SUM_OWN, Wanted
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.driver.driver import TABLES
from diaphragm_fem.design.files.key_path import copied, parse_path, read_path, write_path
from diaphragm_fem.errors import DesignError, StudyError, UnusualError
from diaphragm_fem.study.plan.amount import Written, split_amount, write_amount
from diaphragm_fem.study.plan.constraint import Expression
from diaphragm_fem.study.plan.wish import Limits, Wish

SPREADS: dict[str, tuple[str, ...]] = {
    "normal": ("mean", "deviation"),
    "lognormal": ("mean", "deviation"),
    "uniform": ("low", "high"),
    "triangular": ("low", "peak", "high"),
}
"""Distributions and the numbers each needs, in the order a Variable keeps them."""

WORTH_PARTS = 150  # cases that pay for the patches of 54 parts

_WALL_KEYS = {
    "thickness", "material", "density", "youngs_modulus", "poisson_ratio", "loss_factor",
}  # fmt: skip


def last_name(path: str) -> str:
    """The name at the end of a path: profile.outer.steps[0].tread -> tread, youngs_modulus.value -> youngs_modulus."""
    return next(step for step in reversed(parse_path(path)) if isinstance(step, str) and step != "value")


@dataclass(frozen=True)
class Variable:
    """One thing that varies: its own name, the design's keys it sets, and where its values come from.

    source  "list" (numbers are the values as written), "range", "log_range" (low, high), a distribution of SPREADS,
            or "table" (a column of the table of cases); unit is the unit its numbers are written with.
    of      its values are ratios to this other variable or key of the design.
    count   how many values it takes on a grid.
    """

    name: str
    keys: tuple[str, ...]
    source: str
    numbers: tuple[Any, ...]
    unit: str = ""
    of: str | None = None
    count: int = 1

    @property
    def is_one_value(self) -> bool:
        """Whether it is a list of one."""
        return self.source == "list" and len(self.numbers) == 1

    @property
    def wall_only(self) -> bool:
        """Whether it changes thickness and material alone, so that cases that differ in it can share a mesh."""
        return all(last_name(key) in _WALL_KEYS for key in self.keys)

    @property
    def around_only(self) -> bool:
        """Whether it changes what surrounds the diaphragm alone, so that cases that differ in it can share the solved
        diaphragm."""
        return all(parse_path(key)[0] in TABLES for key in self.keys)


@dataclass(frozen=True)
class Recipe:
    """All a worker needs to make and solve a case: plain data, the same on every machine.

    alike is how many cases can be expected to differ in walls alone, so that they may share a mesh and its matrices,
    scattered how many are as different as chance makes them, in everything that varies.
    files holds the digests of the files that its designs name.
    """

    base: Mapping[str, Any]
    origin: str
    variables: tuple[Variable, ...]
    constraints: tuple[tuple[str, Expression], ...] = ()
    settings: Mapping[str, Any] = field(default_factory=dict)
    alike: int = 1
    scattered: int = 0
    files: Mapping[str, str] = field(default_factory=dict)

    @property
    def folder(self) -> Path:
        """Where files that its designs name are looked for."""
        return Path(self.origin).parent

    @property
    def from_anywhere(self) -> "Recipe":
        """The same for a worker in another folder, or on another machine that sees the same disk."""
        return replace(self, origin=str(Path(self.origin).absolute()))

    @property
    def up_to_hz(self) -> float:
        return float(self.settings["up_to_hz"])

    @property
    def joints(self) -> bool:
        """Whether it is solved by the shell that knows of its ends, joints and thick walls."""
        return bool(self.settings.get("joints", False))

    @property
    def in_vacuum(self) -> bool:
        """Whether what surrounds the part is left out."""
        return bool(self.settings.get("in_vacuum", False))

    @property
    def of_two(self) -> bool:
        """Whether its designs have a second section that its figures tell of, too."""
        return "second_section" in self.base and not self.in_vacuum

    @property
    def asks_both(self) -> bool:
        """Whether figures of what two sections send together are kept."""
        kept = self.settings.get("figures")
        return kept is None or any(name.split(":")[0] in (*SUM_OWN, *SUM_BANDED) for name in kept)

    @property
    def wanted(self) -> Wanted:
        """How its figures are read."""
        bands = {name: (ends[0], ends[1]) for name, ends in self.settings.get("bands", {}).items()}
        return Wanted(bands, self.settings.get("even_db", EVEN_DB))

    @property
    def spreads_parts(self) -> bool:
        """Whether its solvers first read joints of parts that are spread over all that scatters (see
        `run.shared_joints`): only where there are cases enough, and numbers alone vary."""
        listed = any(one.source in ("list", "table") and not one.is_one_value for one in self.variables)
        return self.joints and self.scattered >= WORTH_PARTS and not listed

    def drawn(self, data: Mapping[str, Any]) -> Design:
        """The design of the data of a file, without what surrounds it where that is not asked for. Raises what
        `design_from` raises; what is unusual with what a study's user can do, whose verbs have no option for it."""
        from diaphragm_fem.design.read.read import design_from
        from diaphragm_fem.design.read.usual import FILE_ASKED, OR_ALLOWED

        try:
            design = design_from(data, self.origin, folder=self.folder)
        except UnusualError as error:
            words = str(error).replace(FILE_ASKED, "the base design, or to [change] of the study,")
            raise UnusualError(words.replace(OR_ALLOWED, ""), error.keys) from None
        return replace(design, driver=None) if self.in_vacuum else design

    def design_of(self, values: tuple[Written, ...]) -> dict[str, Any]:
        """The base design with the values of one case written in, ties resolved."""
        given = dict(zip((variable.name for variable in self.variables), values, strict=True))
        return self.changed(self.base, given)

    def changed(self, base: Mapping[str, Any], given: Mapping[str, Written]) -> dict[str, Any]:
        """A design with the values of some variables written in."""
        design = copied(base)
        for variable in self._in_order:
            if variable.name not in given:
                continue
            value = given[variable.name]
            if variable.of is not None:
                number, unit = split_amount(self._tied_to(variable, design)) or (None, "")
                ratio = split_amount(value)
                if number is None or ratio is None:
                    raise StudyError(
                        f"vary.{variable.name}: '{variable.of}' holds no number that a ratio could be taken of"
                    )
                value = write_amount(ratio[0] * number, unit)
            for key in variable.keys:
                try:
                    write_path(design, key, value)
                except DesignError as error:
                    raise StudyError(
                        f"vary.{variable.name}.key: does not fit into the base design {self.origin}: {error}"
                    ) from None
        return design

    def _tied_to(self, variable: Variable, design: Mapping[str, Any]) -> Any:
        other = next((other for other in self.variables if other.name == variable.of), None)
        return read_path(design, other.keys[0] if other else str(variable.of))

    @cached_property
    def _in_order(self) -> tuple[Variable, ...]:
        """Free variables first, then each tied one after what it is tied to."""
        names = {variable.name: variable for variable in self.variables}

        def depth(variable: Variable) -> int:
            if variable.of is None:
                return 0
            return 1 + (depth(names[variable.of]) if variable.of in names else 0)

        return tuple(sorted(self.variables, key=depth))

    def broken_constraint(self, design: Mapping[str, Any]) -> str | None:
        """The first reason to discard a design before it is solved; None when it keeps them all."""
        paths = {variable.name: variable.keys[0] for variable in self.variables}
        for reason, expression in self.constraints:
            if not expression.holds(lambda name: read_path(design, paths.get(name, name))):
                return reason
        return None

    def fingerprint(self, design: Mapping[str, Any]) -> bytes:
        """16 bytes that stand for one case: design, files of the study, what is asked and the program's version."""
        parts = [design, dict(self.settings), __version__, *([dict(self.files)] if self.files else [])]
        return bytes.fromhex(digest(parts)[:32])


def digest(parts: Any) -> str:
    """Plain data as 64 hexadecimal digits, whatever the order of its keys."""
    return hashlib.sha256(json.dumps(parts, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


@dataclass(frozen=True)
class Study:
    """A study: the recipe, the plan of its cases, and what the morning should make of them."""

    path: Path
    name: str
    night: bool
    recipe: Recipe
    how: str
    cases: int | None = None
    seed: int = 1
    rows: tuple[tuple[Written, ...], ...] = ()
    time_limit: float = 60.0
    wishes: tuple[Wish, ...] = ()
    limits: Mapping[str, Limits] = field(default_factory=dict)
    pareto: Mapping[str, str] = field(default_factory=dict)
    best: int = 5
    drawn: Mapping[str, Written | tuple[Written, ...]] = field(default_factory=dict)

    @property
    def folder(self) -> Path:
        """Where its results go unless told otherwise: results/<name of the file>.study, day and night apart, and no
        examination or comparison of the same name beside them."""
        return Path("results") / f"{self.path.stem}{'_by_night' if self.night else ''}.study"

    @property
    def store_path(self) -> Path:
        return self.folder / "cases.sqlite"

    @cached_property
    def free_variables(self) -> tuple[Variable, ...]:
        """Those that take more than one value: the dimensions of a sensitivity plan."""
        return tuple(v for v in self.recipe.variables if not v.is_one_value)

    @property
    def asked_figures(self) -> list[tuple[str, str]]:
        """Every figure that the study file names, with the key that names it."""
        return [
            *(("want.figures", name) for name in self.recipe.settings.get("figures") or ()),
            *(("morning.wish", wish.figure) for wish in self.wishes),
            *(("morning.limits", name) for name in self.limits),
            *(("morning.pareto", name) for name in self.pareto),
        ]

    def check_figures(self, known: Sequence[str]) -> None:
        """StudyError for a figure that no case will ever have: told in the evening, not in the morning."""
        wanted = self.recipe.settings.get("figures")
        for key, name in self.asked_figures:
            of_all = key == "want.figures" and any(one.startswith(f"{name}:") for one in known)
            if not of_all and name not in known and name.split(":")[0] not in known:
                near = get_close_matches(name, known, n=1)
                hint = f"did you mean '{near[0]}'? " if near else ""
                hint += "want.in_vacuum leaves out those of a driver; " if self.recipe.in_vacuum else ""
                raise StudyError(f"{self.path}, key {key}: unknown figure '{name}'; {hint}known are {', '.join(known)}")
            self._check_band(key, name)
            if wanted is not None and name not in wanted and name.split(":")[0] not in wanted:
                raise StudyError(
                    f"{self.path}, key {key}: '{name}' is not among want.figures, so no case will keep it; "
                    f"received {', '.join(wanted)}"
                )

    def _check_band(self, key: str, name: str) -> None:
        """A smooth measure names its band after a colon, mean_level_db:voice; a driver's figure over its own may."""
        stem, _, part = name.partition(":")
        bands = self.recipe.settings.get("bands", {})
        band = part if stem in OVER_BANDS else part.partition(",")[0]  # a driver's have no zones
        if (stem in MEASURES or (stem in OVER_BANDS and name != stem)) and band not in bands:
            known = ", ".join(bands) or "none"
            raise StudyError(
                f"{self.path}, key {key}: '{name}' must name a band of want.bands after a colon, such as "
                f"{stem}:{next(iter(bands), 'voice')}; there are {known}"
            )

    @property
    def made_of(self) -> dict[str, Any]:
        """Everything that decides the inputs and answers of case k, named files among it, as plain data.

        The number of cases of a Sobol sequence is left out: a longer sequence begins with the shorter one, so that a
        study may be made longer and goes on from what it has.
        """
        recipe = self.recipe
        made: dict[str, Any] = {
            "base": recipe.base,
            "vary": [[v.name, v.keys, v.source, v.numbers, v.unit, v.of, v.count] for v in recipe.variables],
            "keep": [[reason, expression.text] for reason, expression in recipe.constraints],
            "want": dict(recipe.settings),
            "how": self.how,
            "cases": None if self.how == "sobol" else self.cases,
            "seed": self.seed,
            "rows": self.rows,
        }
        if self.how == "sensitivity":
            made["free"] = len(self.free_variables)
        return {**made, "files": dict(recipe.files)} if recipe.files else made

    @cached_property
    def identity(self) -> str:
        """Fingerprint of what it is made of."""
        return digest(list(self.made_of.values()))[:32]
