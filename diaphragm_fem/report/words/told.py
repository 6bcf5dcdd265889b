"""Words of advice beside the steps that they tell, so that who walks these need not read them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from diaphragm_fem.answer.change.sensitivity import Sensitivity


@dataclass(frozen=True)
class Told:
    """Words, "" where there is nothing to tell, and the steps of levers in them, in their order."""

    words: str = ""
    steps: tuple[Sensitivity, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.words)

    def within(self, sentence: str) -> Told:
        """A sentence with these words in place of its {}; nothing where there are none."""
        return replace(self, words=sentence.replace("{}", self.words)) if self.words else self


NOTHING = Told()
Sentences: TypeAlias = Sequence[str | Told]


def joined(parts: Iterable[str | Told], by: str = " ") -> Told:
    """Words one after another, those that are none left out, and all their steps, each once."""
    told = [Told(part) if isinstance(part, str) else part for part in parts if part]
    steps: list[Sensitivity] = []
    for step in (one for part in told for one in part.steps):
        steps += [step] * (step not in steps)
    return Told(by.join(part.words for part in told), tuple(steps))
