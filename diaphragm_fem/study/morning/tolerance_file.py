"""A tolerance study of the winner, ready to run: the one question that a ranking leaves open."""

from collections.abc import Mapping
from typing import Any

from diaphragm_fem.design.files.write import to_toml
from diaphragm_fem.study.morning.beside import Beside
from diaphragm_fem.study.plan.amount import kinds, split_amount
from diaphragm_fem.study.plan.study import Study, Variable, last_name

LENGTH, THICKNESS, MODULUS, OTHER = "0.03 mm", "4 %", "8 %", "2 %"
PARTS = 256
REMARK = """How many parts of the winner will keep to the limits, and which scatter costs the most of them?

The scatter is assumed (common practice, no source): put in what you measured on your own line{limits}.
Only what varied in the study scatters here: add what else does on your line, or the yield comes out too high.
"""


def tolerance_text(study: Study, winner: Beside, design: str) -> str | None:
    """Text of a study file whose base is the winner's design file beside it; None where nothing of it scatters.

    What varied in the study scatters about the winner's amounts; bands, limits and wishes are the study's own.
    """
    vary = {
        variable.name: {"key": list(variable.keys) if len(variable.keys) > 1 else variable.keys[0]}
        | {"normal": {"deviation": deviation}}
        for variable in study.recipe.variables
        if (deviation := assumed_scatter(variable, winner.amounts.get(variable.name)))
    }
    if not vary:
        return None
    settings = study.recipe.settings
    want = {"up_to": f"{settings['up_to_hz']:.9g} Hz", "even": settings["even_db"]}
    want |= {"in_vacuum": True} if study.recipe.in_vacuum else {}
    bands = {name: [f"{end:.9g} Hz" for end in ends] for name, ends in settings["bands"].items()}
    data: dict[str, Any] = {
        "study": {"name": f"tolerance of the best of {study.name}", "base": design},
        "vary": vary,
        "plan": {"how": "sobol", "cases": PARTS, "seed": 1},
        "want": want | ({"bands": bands} if bands else {}) | ({} if study.recipe.joints else {"joints": False}),
    }
    limits = {name: _limit(limits) for name, limits in study.limits.items()}
    wishes = [{"figure": one.figure, "aim": one.aim, "weight": one.weight} for one in study.wishes]
    if limits or wishes:
        data["morning"] = ({"limits": limits} if limits else {}) | ({"wish": wishes} if wishes else {})
    remark = REMARK.format(limits="" if study.limits else ", and give [morning.limits]")
    return "".join(f"# {line}".rstrip() + "\n" for line in remark.splitlines()) + "\n" + to_toml(data)


def _limit(limits: tuple[float | None, float | None]) -> Mapping[str, float]:
    return {side: value for side, value in zip(("above", "below"), limits, strict=True) if value is not None}


def assumed_scatter(variable: Variable, amount: Any) -> str | None:
    """The scatter assumed for an amount of what varies; None for a name, a whole number or a share of nothing."""
    name, parts = last_name(variable.keys[0]), split_amount(amount)
    if parts is None or isinstance(amount, int):
        return None
    kind = kinds(parts[1])
    if "m" in kind and name != "thickness":
        return LENGTH
    if not parts[0] > 0:
        return None
    return THICKNESS if name == "thickness" else MODULUS if "Pa" in kind else OTHER
