"""Libraries that look for settings of their own in the folder in which a command is started, loaded apart from it."""

import os
import sys
from collections.abc import Iterator
from contextlib import chdir, contextmanager, nullcontext
from importlib.util import find_spec
from pathlib import Path

NO_SETTINGS = {"ezdxf": {"XDG_CONFIG_HOME": os.devnull, "EZDXF_CONFIG_FILE": ""}}  # others may lie in a user's own


@contextmanager
def apart(library: str, below: str = "") -> Iterator[None]:
    """The folder of a library, or one below it, while it is loaded: that of the whole process for so long.

    The folder of a study may come from anybody. Settings in it would change what is drawn, end the command where they
    are no text, and hold it up as a pipe. Those of ezdxf in the user's own folder, or that the environment names, are
    left aside as well, for they may be malformed. Nothing is changed where the library is loaded already or is not
    there; the folder is not where nothing can be read in that of the process, to which there is no way back then.
    """
    found = find_spec(library) if library not in sys.modules else None
    places = found.submodule_search_locations if found and _may_return() else None
    settings = NO_SETTINGS.get(library, {}) if found else {}
    with _environment(settings), chdir(Path(places[0], below)) if places else nullcontext():
        yield


@contextmanager
def _environment(other: dict[str, str]) -> Iterator[None]:
    """Variables of the environment as they are for so long."""
    before = {name: os.environ.get(name) for name in other}
    os.environ |= other
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


def _may_return() -> bool:
    try:
        return os.access(os.getcwd(), os.X_OK)
    except OSError:  # it is gone
        return False
