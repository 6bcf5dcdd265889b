"""Several parts solved in step: what a step runs through and reads stays at hand for the next part."""

from collections.abc import Generator, Iterable
from typing import TypeAlias, TypeVar

Answer = TypeVar("Answer")
Steps: TypeAlias = Generator[None, None, Answer]  # yields after each of its steps


def in_step(works: Iterable[Steps[Answer]]) -> list[Answer | Exception]:
    """What each returns or raises, every step done for all before the next. Raises MemoryError at once: what goes on
    in a process without memory is not to be trusted."""
    left = dict(enumerate(works))
    found = dict[int, Answer | Exception]()
    while left:
        for k, work in list(left.items()):
            try:
                next(work)
                continue
            except StopIteration as end:
                found[k] = end.value
            except MemoryError:
                raise
            except Exception as error:
                found[k] = error
            del left[k]
    return [found[k] for k in sorted(found)]


def at_once(work: Steps[Answer]) -> Answer:
    """What one returns, its steps done without a stop. Raises what it raises."""
    while True:
        try:
            next(work)
        except StopIteration as end:
            return end.value
