"""A process that has met no joint yet."""

import pytest

from diaphragm_fem.model.joint import kinds as joint_kinds


def forget() -> None:
    """Forget the patches met, the book they are shared in and the ranges they are read over."""
    joint_kinds._KNOWN.clear()
    joint_kinds.share_in(None)
    joint_kinds.read_over(())


def solve_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """From here on no patch may be solved."""

    def solved(*_: object) -> None:
        raise AssertionError("a patch was solved")

    monkeypatch.setattr(joint_kinds, "_patch", solved)
