"""One check: a problem, what the literature or a closed form says, what we find, and how far both may differ."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array, Complex

Values = Array | Complex
Pair = tuple[Values, Values]


@dataclass(frozen=True)
class Check:
    """A group of values of one problem, compared with one source.

    id            short unique name, "rung/what"
    problem       what is solved, with its parameters
    quantity      what is compared, with its unit or normalisation
    source        author, year, equation or table of the reference; "computed" says that no table stands behind it
    allowed       largest relative difference that passes; the ladder lowers it to four times what was measured
    reason        why as much as a rung allows: the theory's own error, the digits of the table, ...
    values        gives the reference values and ours, of the same shape
    rung          the rung of the ladder it stands on
    model         "shell", "solid", "analysis" or "load"
    scale         what a difference is divided by: "each" its own reference value, "largest" the largest of them
    note          what a reader should know, for example where published values disagree
    """

    id: str
    problem: str
    quantity: str
    source: str
    allowed: float
    reason: str
    values: Callable[[], Pair]
    rung: str
    model: str = "shell"
    scale: str = "each"
    note: str = ""


@dataclass(frozen=True)
class CheckResult:
    """Outcome of a check: its values, the worst of them, and the time it took in seconds.

    `error` holds the message of a check that could not be run: it counts as failed.
    """

    check: Check
    reference: Values
    ours: Values
    seconds: float
    error: str = ""

    @property
    def differences(self) -> Array:
        """Relative differences (flat), signed where both are real, else the size of the complex difference."""
        scale = np.abs(self.reference) if self.check.scale == "each" else np.abs(self.reference).max()
        gap = self.ours - self.reference
        return np.ravel((np.abs(gap) if np.iscomplexobj(gap) else gap) / scale).astype(float)

    @property
    def worst(self) -> int:
        """Index of the value with the largest difference."""
        return int(np.argmax(np.abs(self.differences)))

    @property
    def difference(self) -> float:
        """The largest relative difference, with its sign; infinite for a check that could not be run."""
        if self.error or self.ours.shape != self.reference.shape or not np.all(np.isfinite(self.ours)):
            return float("inf")
        return float(self.differences[self.worst])

    @property
    def passed(self) -> bool:
        return abs(self.difference) <= self.check.allowed
