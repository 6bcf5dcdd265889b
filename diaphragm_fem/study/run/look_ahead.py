"""The parts of the cases that come next, made side by side: what their joints take for each call of numpy is shared.

Each has the matrices that it has alone, to the bit, so that no case hangs on what is solved beside it. What cannot be
made here is left to its own turn, which tells why; so are joints that need a patch of the solid, which take as long as
a case. A time limit or a crash that strikes meanwhile is nobody's: the guard then has these cases solved one by one.
"""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from diaphragm_fem.answer.quick import Quick, quick_of
from diaphragm_fem.answer.walls.steps import in_step
from diaphragm_fem.design.design import Design
from diaphragm_fem.model.joint.kinds import met
from diaphragm_fem.model.shell.shell import ShellModel, build_shell, structures
from diaphragm_fem.model.structure import Structure
from diaphragm_fem.study.plan.study import Recipe
from diaphragm_fem.study.run.shared_meridian import Shelf


class Ahead(NamedTuple):
    """A design made ahead of its turn from the data of its file, its shell, and its structure of order 0 where that is
    made as well."""

    data: Mapping[str, Any]
    design: Design
    shell: ShellModel
    structure: Structure | None = None

    def quick(self, recipe: Recipe) -> Quick:
        """Its answers, from the structure that is made now if it was not."""
        return quick_of(self.structure or self.shell.structure(0), recipe.up_to_hz, wanted=recipe.wanted)


class Solved(NamedTuple):
    """A design made ahead of its turn and solved as well."""

    data: Mapping[str, Any]
    design: Design
    answers: Quick

    def quick(self, _: Recipe) -> Quick:
        return self.answers


def walls_ahead(many: Sequence[Mapping[str, Any]], shelf: Shelf) -> list[Solved]:
    """Those of some designs that a span of walls answers which is there, solved in step."""
    found = zip(many, in_step(map(shelf.steps, many)), strict=True)
    return [Solved(data, *one) for data, one in found if isinstance(one, tuple)]


def made_ahead(many: Sequence[Mapping[str, Any]], recipe: Recipe) -> list[Ahead]:
    """Those of some designs that can be made, without drivers: a solved diaphragm serves many of these."""
    found = [one for data in many if (one := _begun(data, recipe))]
    ready = [k for k, one in enumerate(found) if not one.shell.corrected or met(one.shell.joint_kinds)]
    try:
        made = structures([found[k].shell for k in ready], 0)
    except MemoryError:
        raise  # as of a case: what goes on in a process without memory is not to be trusted
    except Exception:
        return []
    for k, structure in zip(ready, made, strict=True):
        found[k] = found[k]._replace(structure=structure)
    return found


def _begun(data: Mapping[str, Any], recipe: Recipe) -> Ahead | None:
    try:
        design = recipe.drawn(data)
        if design.driver is not None:
            return None
        return Ahead(data, design, build_shell(design, up_to_hz=recipe.up_to_hz, corrected=recipe.joints))
    except MemoryError:
        raise
    except Exception:
        return None
