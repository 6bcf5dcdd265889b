"""How fast sweeps are, and what one scheduler and one store bear: run with -m long -s; every test prints what it
measured.

The large simulation stands for many workers that each solve 20 cases a second: one thread per worker that waits
instead of solving and returns rows of real size, in a few processes, with the engine, the scheduler, the network of
this machine and the store as they are (SWEEP_WORKERS and SWEEP_SECONDS say how many and for how long). Times are
asserted nowhere near the edge, because machines differ.
"""

import os
import sys
import threading
import time
from pathlib import Path

import psutil
import pytest

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(Path(__file__).parent)]

import sweep_pretence  # noqa: E402
from study_standin import STANDIN, write_study  # noqa: E402

from diaphragm_fem.study.plan.study import Recipe  # noqa: E402
from diaphragm_fem.study.plan.study_file import read_study  # noqa: E402
from diaphragm_fem.study.run import cluster as cluster_of_dask  # noqa: E402
from diaphragm_fem.study.run.engine import run_study  # noqa: E402
from diaphragm_fem.study.run.progress import Progress  # noqa: E402
from diaphragm_fem.study.run.store import Row, open_store  # noqa: E402
from diaphragm_fem.study.run.store_reading import read_store  # noqa: E402

pytestmark = pytest.mark.long
CASES = int(os.environ.get("SWEEP_CASES", "400"))


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join(sys.path[:2]))


class Meter(threading.Thread):
    """Memory in MB and processor time in s of this process and all its children over the time of a `with` block."""

    def __init__(self):
        super().__init__(daemon=True)
        self.samples, self.going, self.spent = [], True, {}

    def run(self):
        me = psutil.Process()
        while self.going:
            total = 0
            for process in (me, *me.children(recursive=True)):
                try:
                    total += process.memory_info().rss
                    self.spent.setdefault(process.pid, []).append(sum(process.cpu_times()[:2]))
                except psutil.NoSuchProcess:
                    continue
            self.samples.append(total / 1e6)
            time.sleep(0.5)

    @property
    def processor_seconds(self):
        return sum(times[-1] - (times[0] if pid == os.getpid() else 0.0) for pid, times in self.spent.items())

    def __enter__(self):
        self.start()
        return self

    def __exit__(self, *_):
        self.going = False
        self.join()


def study_of(folder, name, counts):
    """A shipped study with its grid or its number of cases changed."""
    text = (ROOT / "studies" / f"{name}.toml").read_text().replace('base = "', f'base = "{ROOT / "studies"}/')
    for old, new in counts.items():
        assert old in text
        text = text.replace(old, new)
    (folder / f"{name}.toml").write_text(text)
    return read_study(folder / f"{name}.toml")


def report(title, summary, meter, extra=""):
    with read_store(summary.store) as reading:
        (solving,) = reading.base.execute("SELECT sum(seconds) FROM cases").fetchone()
        (workers,) = reading.base.execute("SELECT workers FROM runs ORDER BY number DESC LIMIT 1").fetchone()
    share = solving / summary.seconds / workers
    settled = meter.samples[len(meter.samples) // 3 :]
    print(
        f"\n{title}: {summary.added} cases in {summary.seconds:.1f} s = {summary.rate:.1f} a second "
        f"on {workers} workers; {1e3 * solving / summary.added:.1f} ms a case in the solver, "
        f"{100 * share:.0f} % of the workers' time; {1e3 * meter.processor_seconds / summary.added:.1f} ms of "
        "processor a case, all processes together; "
        f"memory {min(settled):.0f} to {max(settled):.0f} MB; "
        f"{summary.store.stat().st_size / summary.total:.0f} bytes a case; load {os.getloadavg()[0]:.1f} {extra}"
    )


@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.parametrize("name", ["geometry", "walls"])
def test_rate_of_real_cases(tmp_path, name, workers):
    """Shell, m = 0, a resolved curve of 400 points, store included. SWEEP_CASES sets how many."""
    if name == "geometry":
        side = max(int((CASES / 8) ** 0.5 + 1), 2)
        study = study_of(
            tmp_path, "step_position_by_tread", {"count = 33": f"count = {side * 8}", "count = 17": f"count = {side}"}
        )
    else:
        study = study_of(tmp_path, "film_by_thickness", {"count = 60": f"count = {max(CASES // 6, 1)}"})
    with Meter() as meter:
        summary = run_study(study, workers=workers)
    report(f"{name}, {workers} workers", summary, meter)
    assert summary.after.get("failed", 0) == 0
    assert max(meter.samples) < 1500


def test_the_store_alone(tmp_path):
    """Rows of real size into the store, every transaction of 500 on the disk before the next."""
    study = read_study(write_study(tmp_path))
    inputs = '{"a":"1.25 mm","b":"25 um","c":"PEN film"}'
    curve, figures = os.urandom(sweep_pretence.CURVE_BYTES), sweep_pretence.FIGURES
    rows = [Row(n, "done", None, inputs, b"0123456789abcdef", figures, None, curve, 0.05) for n in range(40000)]
    with open_store(study) as store:
        begin = time.perf_counter()
        for k in range(0, len(rows), 500):
            store.add(rows[k : k + 500])
        seconds = time.perf_counter() - begin
    size = study.store_path.stat().st_size
    print(
        f"\nstore alone: {len(rows) / seconds:.0f} rows a second, {size / len(rows):.0f} bytes a case, "
        f"load {os.getloadavg()[0]:.1f}"
    )
    assert len(rows) / seconds > 1000


@pytest.mark.parametrize("threads", [100, int(os.environ.get("SWEEP_WORKERS", "400"))])
def test_a_cluster_of_many_workers(tmp_path, monkeypatch, threads):
    """The engine, the scheduler and the store against `threads` workers of 20 cases a second each."""
    from distributed import LocalCluster

    monkeypatch.setattr(cluster_of_dask, "run_batch", sweep_pretence.pretend_batch)
    seconds = int(os.environ.get("SWEEP_SECONDS", "20"))
    cases = min(int(threads / sweep_pretence.CASE_SECONDS * seconds), 600_000)
    more = f'[plan]\nhow = "sobol"\ncases = {cases}\n[morning]\nwish = [{{ figure = "departure_hz" }}]\n'
    study = read_study(write_study(tmp_path, more=more))
    assert isinstance(study.recipe, Recipe)
    processes = 4
    with (
        LocalCluster(
            n_workers=processes,
            threads_per_worker=threads // processes,
            processes=True,
            memory_limit=0,
            dashboard_address=None,
        ) as cluster,
        Meter() as meter,
    ):
        me = psutil.Process()
        begin = me.cpu_times().user + me.cpu_times().system
        with Progress(study, quiet=True) as watcher:
            summary = run_study(study, scheduler=cluster.scheduler_address, watcher=watcher, evaluator=STANDIN)
        busy = (me.cpu_times().user + me.cpu_times().system - begin) / summary.seconds
    offered = threads / sweep_pretence.CASE_SECONDS
    report(
        f"{threads} pretended workers",
        summary,
        meter,
        f"; offered {offered:.0f} a second, command and scheduler {100 * busy:.0f} % of a core",
    )
    assert summary.after == {"done": cases}
