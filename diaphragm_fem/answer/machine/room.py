"""Room for linear algebra: memory that its libraries must find, as they ask for it without end.

OpenBLAS, of which numpy and scipy bring a copy each, takes a work area of 32 MiB as it is loaded and another as it is
first called, and keeps both. Where the system gives none it asks again for ever, or ends the process, inside the
library, where neither a signal to Python nor an error comes through: under a limit of memory a command would hang, and
each case of a sweep would run into its time limit. HDF5 ends the process where it is given none in the midst of a file.
"""

import mmap
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from diaphragm_fem.errors import AnalysisError

ROOM = 256 * 2**20  # bytes: both copies loaded and called once take 237 MiB of addresses on x86-64 Linux


def claim_work_areas() -> None:
    """Load numpy's and scipy's linear algebra and have them take their work areas while there is room for them.

    Raises AnalysisError where there is not. Afterwards want of memory is an error like any other. Takes 1 ms beside
    the loading, and next to no memory: areas are filled as they are used.
    """
    claim_room(ROOM, "for linear algebra alone")
    import numpy as np

    with _what_is_loaded(np):
        from scipy.linalg import blas

    one = np.eye(128)  # products of up to 100 x 100 are done without a work area
    blas.dtrsm(1.0, one, one @ one)


def claim_room(size: int, what: str) -> None:
    """Raise AnalysisError, with `what` needs them, where so many bytes cannot be had now."""
    try:
        mmap.mmap(-1, size).close()
    except OSError as error:
        raise AnalysisError(
            f"not enough memory: {-(-size >> 20)} MiB more are needed {what}; give the command more, or lift a limit "
            "that is set on it (ulimit -v)"
        ) from error


@contextmanager
def _what_is_loaded(library: Any) -> Iterator[None]:
    """Within the block a library names nothing that it would load when asked for it: scipy copies all that numpy names,
    and so loads its compiler of Fortran and its tests, 0.08 s of what each command takes to begin."""
    names, listed = library.__all__, library.__dir__
    library.__all__ = [name for name in names if name in vars(library)]
    library.__dir__ = lambda: sorted(vars(library))
    try:
        yield
    finally:
        library.__all__, library.__dir__ = names, listed
