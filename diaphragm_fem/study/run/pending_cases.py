"""The cases of a study still to be solved, planned a little ahead of the workers."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator

from diaphragm_fem.study.plan.amount import Written
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.run.solver_process import Case

CHUNK = 4096  # cases planned ahead at a time


class Planned:
    """Cases still to be solved, in order of their numbers, planned a chunk at a time; `left` of them not taken yet."""

    def __init__(self, sampler: Sampler, stored: Iterator[int]) -> None:
        self._sampler, self._stored = sampler, bytearray(len(sampler))
        for number in stored:
            if number < len(sampler):
                self._stored[number] = 1
        self._next = 0
        self._ahead: deque[Case] = deque()
        self.left = len(sampler) - self._stored.count(1)

    def take(self, count: int) -> list[Case]:
        while len(self._ahead) < count and self._next < len(self._sampler):
            end = min(self._next + CHUNK, len(self._sampler))
            numbers = range(self._next, end)
            if not all(self._stored[self._next : end]):
                block: list[tuple[Written, ...]] = self._sampler.block(self._next, end)
                self._ahead += [(n, values) for n, values in zip(numbers, block, strict=True) if not self._stored[n]]
            self._next = end
        taken = [self._ahead.popleft() for _ in range(min(count, len(self._ahead)))]
        self.left -= len(taken)
        return taken
