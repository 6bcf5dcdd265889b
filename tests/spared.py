"""What most tests of a whole job need not pay for."""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest


@contextmanager
def without_doubts() -> Iterator[None]:
    """No figure is asked how much it hangs on doubtful numbers, for what tests share of a comparison."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("diaphragm_fem.answer.comparison.figure_rows.doubtful_figures", lambda *_, **__: frozenset())
        yield
