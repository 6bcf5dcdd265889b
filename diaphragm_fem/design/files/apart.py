"""Libraries that look for settings of their own in the folder in which a command is started, loaded apart from it."""

import os
import sys
from collections.abc import Iterator
from contextlib import chdir, contextmanager, nullcontext
from importlib.util import find_spec
from pathlib import Path


@contextmanager
def apart(library: str, below: str = "") -> Iterator[None]:
    """The folder of a library, or one below it, while it is loaded: that of the whole process for so long.

    The folder of a study may come from anybody. Settings in it would change what is drawn, end the command where they
    are no text, and hold it up as a pipe. Nothing is changed where the library is loaded already or is not there, or
    where nothing can be read in the folder of the process, to which there is no way back then.
    """
    found = find_spec(library) if library not in sys.modules and _may_return() else None
    places = found.submodule_search_locations if found else None
    with chdir(Path(places[0], below)) if places else nullcontext():
        yield


def _may_return() -> bool:
    try:
        return os.access(os.getcwd(), os.X_OK)
    except OSError:  # it is gone
        return False
