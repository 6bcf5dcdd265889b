"""The cases of a study still to be solved, planned a little ahead of the workers."""

from collections import deque
from collections.abc import Callable, Hashable, Iterator

from diaphragm_fem.study.plan.amount import Written
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.run.solver_process import Case

CHUNK = 4096  # cases planned ahead at a time


class Planned:
    """Cases still to be solved, planned a chunk at a time; `left` of them not taken yet.

    Those that share a span of walls are taken together, and by the worker that has it where one asks for them: each
    then makes few. Among these, as among all where none are shared, they come in order of their numbers.
    """

    def __init__(
        self, sampler: Sampler, stored: Iterator[int], span_of: Callable[[tuple[Written, ...]], Hashable]
    ) -> None:
        self._sampler, self._stored, self._span_of = sampler, bytearray(len(sampler)), span_of
        for number in stored:
            if number < len(sampler):
                self._stored[number] = 1
        self._next = 0
        self._ahead: dict[Hashable, deque[Case]] = {}
        self._begun: set[Hashable] = set()
        self.left = len(sampler) - self._stored.count(1)

    def take(self, count: int, span: Hashable = None) -> list[Case]:
        """The next cases of a span, of one that nobody has begun, or of that with most cases left: as many as asked
        for, or all of them where that is not twice as many."""
        while sum(map(len, self._ahead.values())) < count and self._next < len(self._sampler):
            end = min(self._next + CHUNK, len(self._sampler))
            if not all(self._stored[self._next : end]):
                for number, values in enumerate(self._sampler.block(self._next, end), self._next):
                    if not self._stored[number]:
                        self._ahead.setdefault(self._span_of(values), deque()).append((number, values))
            self._next = end
        if not self._ahead:
            return []
        if span not in self._ahead:
            fresh = (other for other in self._ahead if other not in self._begun)
            span = next(fresh, None) or max(self._ahead, key=lambda other: len(self._ahead[other]))
        self._begun.add(span)
        cases = self._ahead[span]
        whole = len(cases) < 2 * count and len(self._ahead) > 1
        taken = [cases.popleft() for _ in range(len(cases) if whole else min(count, len(cases)))]
        if not cases:
            del self._ahead[span]
            self._begun.discard(span)
        self.left -= len(taken)
        return taken


BATCH_SECONDS = 0.5
MOST_TASKS_A_SECOND = 100  # a Dask scheduler bears a few hundred
LARGEST_BATCH = 512
TASKS_PER_WORKER = 3
FIRST_BATCHES = 64


def batch_size(case_seconds: float | None, left: int, workers: int, taken: int) -> int:
    """Cases for the next task, at least 1.

    A task lasts BATCH_SECONDS, less toward the end, so that no worker waits long for another's last one, but never so
    little that more than MOST_TASKS_A_SECOND of them come in. While no case was solved yet it feels its way: 1, 2,
    4, ...

    case_seconds  seconds a case takes, None while unknown; left: cases not yet in a task; taken: tasks that came back.
    """
    if case_seconds is None:
        return min(2**taken, FIRST_BATCHES)
    case_seconds = max(case_seconds, 1e-6)
    least = workers / MOST_TASKS_A_SECOND / case_seconds
    share = left / (workers * TASKS_PER_WORKER)
    return max(int(min(max(share, least), max(BATCH_SECONDS / case_seconds, least), LARGEST_BATCH)), 1)
