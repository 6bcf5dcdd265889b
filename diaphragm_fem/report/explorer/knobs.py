"""What of a design file can be turned: every amount that it writes and that may be changed, and every material."""

from dataclasses import dataclass
from math import ceil, floor, log10
from pathlib import Path

from diaphragm_fem.answer.change.levers import KINDS, levers
from diaphragm_fem.design.files.key_path import all_paths, parse_path, read_path
from diaphragm_fem.design.library.library import load_materials
from diaphragm_fem.design.read.read import DesignFile
from diaphragm_fem.design.units.units import EVERYDAY, MODULUS, Dimension, read_quantity
from diaphragm_fem.errors import DesignError

BELOW, ABOVE = 0.5, 2.0  # of the drawn value: where a slider begins and ends
STEPS = 120  # of a slider, about


@dataclass(frozen=True)
class Slide:
    """A number of the design file: its key, its unit as written there, its value and range in that unit."""

    key: str
    unit: str
    value: float
    low: float
    high: float
    step: float

    def text(self, value: float) -> str:
        """The value as it stands in a file: "0.8 mm"."""
        return f"{value:.10g} {self.unit}"


@dataclass(frozen=True)
class Choice:
    """A material that the design file names: its key, the name drawn, and every name known."""

    key: str
    value: str
    names: tuple[str, ...]


def slides_of(file: DesignFile) -> list[Slide]:
    """A slide for every lever of the file that stands alone with a unit, and for the moduli of its own materials."""
    amounts = [(lever.key, KINDS[lever.kind]) for lever in levers(file) if lever.kind in KINDS]
    moduli = [(path, MODULUS) for path in all_paths(file.data) if "youngs_modulus" in parse_path(path)]
    found = [_slide(file, key, kind) for key, kind in [*amounts, *moduli]]
    return [one for one in found if one is not None]


def choices_of(file: DesignFile) -> list[Choice]:
    """A choice for every material that the file names."""
    extra = file.spec.materials_file
    folder = Path(file.path or "design").parent
    known = tuple(load_materials(folder / extra if extra else None, file.spec.materials, overrides_from=str(file.path)))
    found = []
    for path in all_paths(file.data):
        value = read_path(file.data, path)
        if parse_path(path)[-1] == "material" and isinstance(value, str) and value in known:
            found.append(Choice(path, value, known))
    return found


def group_of(key: str) -> str:
    """The table of a key in words: "outer step 1", "inner flank", "front slot 1", "my film Young's modulus"."""
    words: list[str] = []
    for step in parse_path(key)[:-1] or ("design",):
        if isinstance(step, int):
            step = f"{words.pop().removesuffix('s')} {step + 1}"
        words.append(step.replace("_", " "))
    told = " ".join(words[:4]).removeprefix("profile ").removeprefix("materials ").replace("youngs", "Young's")
    return f"{told} flank" if told in ("inner", "outer") else told


def _slide(file: DesignFile, key: str, kind: Dimension) -> Slide | None:
    text = read_path(file.data, key)
    if not isinstance(text, str):
        return None
    number, _, unit = text.strip().partition(" ")
    try:
        value = float(number)
        read_quantity(text, kind)
    except (ValueError, DesignError):
        return None
    if not value or unit.strip() not in EVERYDAY[kind.unit]:
        return None
    step = _round_step(abs(value) / STEPS)
    low, high = sorted((BELOW * value, ABOVE * value))
    return Slide(key, unit.strip(), value, floor(low / step) * step, ceil(high / step) * step, step)


def _round_step(rough: float) -> float:
    """1, 2 or 5 times a power of ten, at or above."""
    decade = 10.0 ** floor(log10(rough))
    return next(float(f"{k * decade:.6g}") for k in (1, 2, 5, 10) if k * decade >= rough * (1 - 1e-9))
