"""The variant in hand: the design file with what was turned, the last one that could be solved, and how it is kept."""

import time
from collections.abc import Callable
from pathlib import Path

from diaphragm_fem.answer.explored import Explored
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.files.input_file import read_file_bytes
from diaphragm_fem.design.files.key_path import read_path
from diaphragm_fem.design.files.named_files import moved_to
from diaphragm_fem.design.files.write import write_design
from diaphragm_fem.design.read.read import DesignFile, changed, design_from
from diaphragm_fem.design.units.grammar import split_amount
from diaphragm_fem.errors import DesignError, DiaphragmError, StudyError, plain

MADE_HERE = "# A variant found by exploring "  # begins a file that may be written over


class Variant:
    """A design file and the keys turned in it.

    `shown` is the last variant that could be solved; `refused` the sentence of the one in hand where it could not be;
    `solved` counts them, `seconds` is what the last one took.
    """

    def __init__(self, file: DesignFile, solve: Callable[[Design], Explored], *, allow_unusual: bool = False) -> None:
        self.file, self.solve, self.allow_unusual = file, solve, allow_unusual
        self.turned: dict[str, str] = {}
        self.refused, self.solved, self.seconds = "", 0, 0.0
        self.shown = self._solve()

    def turn(self, changes: dict[str, str]) -> None:
        """Set keys to values as a design file writes them, and solve; a refused value keeps the last picture."""
        self.turned = {key: text for key, text in (self.turned | changes).items() if not self._as_drawn(key, text)}
        try:
            self.shown = self._solve()
            self.refused = ""
        except DiaphragmError as error:
            self.refused = plain(str(error))
        except Exception as error:  # what serves the page would tell nobody, and "solving" would stand there for ever
            self.refused = plain(f"the program failed, which is its own fault ({type(error).__name__}: {error})")

    def _as_drawn(self, key: str, text: str) -> bool:
        drawn = read_path(self.file.data, key)
        if drawn == text or not isinstance(drawn, str):
            return drawn == text
        try:
            return split_amount(drawn) == split_amount(text)  # "0.80 mm" is drawn, "0.8 mm" comes back
        except DesignError:
            return False

    def back(self) -> None:
        """As drawn again."""
        self.turned.clear()
        self.turn({})

    def save(self, path: Path) -> Path:
        """Write the variant as a design file, whole or not at all; StudyError where it is refused or cannot be."""
        if self.refused:
            raise StudyError(f"nothing saved: {self.refused}")
        check_own_variant(path)
        origin = self.file.path or Path("design")
        told = "".join(f"; {key} = {value}" for key, value in self.turned.items())
        data = moved_to(self._data(), origin.parent, path.parent)
        return write_design(data, path, plain(f"{MADE_HERE.removeprefix('# ')}{origin.name}{told}"))

    def _data(self) -> dict[str, object]:
        data = changed(self.file.data, self.turned)
        for key in self.turned if self.allow_unusual else ():
            data["unusual"] = [*data.get("unusual", ()), key]
        return data

    def _solve(self) -> Explored:
        begun = time.perf_counter()
        where = self.file.path or Path("design")
        found = self.solve(design_from(self._data(), str(where), folder=where.parent, allow_unusual=self.allow_unusual))
        self.solved, self.seconds = self.solved + 1, time.perf_counter() - begun
        return found


def check_own_variant(path: Path) -> None:
    """Raise StudyError where a variant may not be saved: somebody else's file is never written over."""
    if path.is_dir() or not path.parent.is_dir():
        raise StudyError(f"--save must name a file in a folder that is there, received '{path}'")
    if path.suffix != ".toml":
        raise StudyError(f"--save must end in .toml, received '{path}'")
    try:
        if path.exists() and not read_file_bytes(path, StudyError).startswith(MADE_HERE.encode()):
            raise StudyError(
                f"--save must name a new file or a variant saved before, and '{path}' is another; give another name"
            )
    except OSError as error:
        raise StudyError(f"{path}: cannot be read: {error.strerror or error}") from error
