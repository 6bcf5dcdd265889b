"""What every test shares: one numeric thread, and an honest skip where the mesher's system libraries are absent."""

import gc
import os
import sys

# Before anything imports numpy: many small matrices run faster on one thread, and timings mean something.
for variable in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(variable, "1")
os.environ.setdefault("MPLBACKEND", "Agg")
# A process that a test begins takes a third less where Python may keep what it has compiled, whatever others forbid it.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False
gc.set_threshold(100_000, 50, 100)  # looking for rings of dead objects took 8 % of the processor's time

from collections.abc import Generator, Iterator  # noqa: E402
from functools import cache  # noqa: E402
from pathlib import Path  # noqa: E402

import pytest  # noqa: E402
from spared import without_doubts  # noqa: E402
from warm_command import Warm, bound_command  # noqa: E402

from diaphragm_fem.errors import MeshError  # noqa: E402

SLOWEST = ("house", "cli", "study", "report", "answer", "verify")  # folders whose files take longest, first


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Short files come last, so that all workers end together."""
    places = {name: place for place, name in enumerate(SLOWEST)}
    items.sort(key=lambda item: places.get(item.path.parent.name, len(places) + (item.path.parent.name == "design")))


def pytest_unconfigure() -> None:
    """The process ends: the interpreter's last search for garbage took a second and more of each."""
    gc.freeze()


@cache
def missing_library() -> str:
    """The system library for want of which gmsh does not load on this machine; empty where it loads."""
    try:
        import gmsh  # noqa: F401
    except OSError as error:
        return str(error).partition(":")[0]
    return ""


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """A test that stops only because gmsh cannot load becomes a skip that names the library; never so under CI."""
    report = yield
    stopped = report.failed and call.excinfo is not None and isinstance(call.excinfo.value, MeshError | OSError)
    if stopped and "CI" not in os.environ and missing_library() and missing_library() in str(call.excinfo.value):
        report.outcome = "skipped"
        report.longrepr = (str(item.path), item.location[1] or 0, f"Skipped: no {missing_library()} for the mesher")
    return report


@pytest.fixture
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder to work in: stores and results lie below it."""
    monkeypatch.chdir(tmp_path)


@pytest.fixture(scope="session")
def bound(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Warm]:
    with bound_command(tmp_path_factory.mktemp("told")) as found:
        yield found


@pytest.fixture
def one_lever(monkeypatch: pytest.MonkeyPatch) -> None:
    """What to change is asked of the wall's thickness alone, for tests of all else that a whole job does."""
    from diaphragm_fem.answer.change import sensitivities

    every = sensitivities.levers
    monkeypatch.setattr(sensitivities, "levers", lambda file: (x for x in every(file) if x.key == "wall.thickness"))


@pytest.fixture
def no_doubts() -> Generator[None, None, None]:
    """As `without_doubts`, for one test."""
    with without_doubts():
        yield


@pytest.fixture
def coarse_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sheets are saved with a ninth of their pixels, for tests that look at no pixel: half of what a sheet takes."""
    monkeypatch.setattr("diaphragm_fem.report.sheets.sheet.DPI", 50)


@pytest.fixture
def blank_pictures(monkeypatch: pytest.MonkeyPatch, coarse_pictures: None) -> None:
    """Sheets are drawn, and saved as empty pages, for tests of verbs: those of sheets render them."""
    from matplotlib.figure import Figure

    save = Figure.savefig

    def saved(figure: Figure, *where: object, **how: object) -> None:
        figure.set_visible(False)  # to clear it takes half as long as to draw it
        save(figure, *where, **how)

    monkeypatch.setattr(Figure, "savefig", saved)
