"""Shells made side by side are those made alone, to the bit: else a case would hang on what is solved with it.

No source: nothing that one shell's matrices are summed from may come from another, nor in another order.
"""

from functools import cache

import pytest
from places import STUDIES

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.read.read import read_design_file
from diaphragm_fem.model.shell.shell import build_shell, structures

OUTER, INNER = "profile.outer.steps[0]", "profile.inner.steps[0]"
LAPS = {f"profile.{flank}.surround.overlap": {"length": "0.4 mm", "side": "front"} for flank in ("inner", "outer")}


def changed(name: str, **changes: object) -> Design:
    return read_design_file(STUDIES / f"{name}.toml", changes, allow_unusual=True).design


@cache
def parts() -> tuple[Design, ...]:
    """Steps at several places, an edge left free, laps, domes."""
    return (
        changed("stepped_v"),
        changed("stepped_v", **{f"{OUTER}.distance": "1.3 mm"}),
        changed("metal_dome"),
        changed("stepped_v", **{f"{INNER}.tread": "0.5 mm", f"{OUTER}.distance": "2.5 mm"}),
        changed("straight_v", **LAPS),
        changed("stepped_v", **{"edges.outer": "free"}),
        changed("soft_dome"),
        changed("straight_v"),
    )


@pytest.mark.parametrize("m", [0, 2])
@pytest.mark.parametrize("corrected", [True, False])
def test_shells_side_by_side_are_those_alone_to_the_bit(m, corrected):
    models = [build_shell(design, corrected=corrected) for design in parts()]
    shapes = {model.shell_walls.shape for model in models}
    assert 1 < len(shapes) < len(models)  # some stand beside others, and not all can
    for design, found in zip(parts(), structures(models, m), strict=True):
        alone = build_shell(design, corrected=corrected).structure(m)
        assert len(found.terms) == len(alone.terms)
        for own, other in zip(found.terms, alone.terms, strict=True):
            assert (own.law, own.zone, own.made_of) == (other.law, other.zone, other.made_of)
            for name in ("data", "indices", "indptr"):
                assert getattr(own.matrix, name).tobytes() == getattr(other.matrix, name).tobytes()
        assert found.volume.tobytes() == alone.volume.tobytes()
