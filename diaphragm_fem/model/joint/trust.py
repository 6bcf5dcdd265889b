"""Whether a book of joints that is there may be used: some of its patches are solved anew first, and must agree.

That finds a book made by a machine that calculates otherwise, or forged throughout. A single forged patch among many is
found the less, the more there are. Whoever may write beside a store is trusted not to forge.
"""

from pathlib import Path
from random import Random

import numpy as np

from diaphragm_fem.errors import plain
from diaphragm_fem.model.joint.book import Book, begin_book
from diaphragm_fem.model.joint.kinds import solved_patch
from diaphragm_fem.model.joint.patch import Excess
from diaphragm_fem.model.joint.table import MM, Key

TRIED = 2  # patches that are solved anew: 20 to 50 ms each
ROUNDING = 1e-5  # between patches solved on two machines, of their largest entry
NOTHING = 1e-3  # in sizes of the first arm: where walls run on, some entries are rounding alone, 3e-12 at most


def begin_sharing(path: Path) -> tuple[bool, str]:
    """Whether processes may share patches in a file, and what is to be said of that. A few of those that are there are
    solved anew: where one is another, or cannot be a joint's, the book is begun anew."""
    if not begin_book(path):
        told = "is no book of joints, is left as it is, and solvers share none; move it away, and they do"
        return False, f"{path}: {told}" if path.exists() else ""
    book = Book(path)
    there = dict(book.news())
    book.close()
    if not there:
        return True, ""
    tried = Random().sample(list(there), min(TRIED, len(there)))
    if all(_agrees(key, there[key]) for key in tried):
        return True, (
            f"joints that were solved before are read from {path} ({len(there)} patches, {_owner(path)}; "
            f"{len(tried)} solved anew are the same)"
        )
    told = "held patches of joints that are not what they yield, damaged or forged: it is begun anew, none is used"
    return begin_book(path, anew=True), f"{path}: {told}"


def _agrees(key: Key, found: Excess | None) -> bool:
    """Whether a patch is the one that this process solves, but for rounding on other machines."""
    try:
        own = solved_patch(key)
    except (ArithmeticError, ValueError, RuntimeError):  # proportions that no wall has
        return False
    if found is None or own is None:
        return found is own
    pairs = zip(found.over(MM), own.over(MM), strict=True)  # so that all entries are of a size
    return all(np.abs(a - b).max() <= ROUNDING * max(np.abs(b).max(), NOTHING) for a, b in pairs)


def _owner(path: Path) -> str:
    try:
        return f"a file of {plain(path.owner())}"
    except (KeyError, NotImplementedError, OSError):  # nobody by name, or Windows
        return "a file of somebody without a name"
