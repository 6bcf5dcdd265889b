"""The kinds of TOML file the program reads, told apart by their tables before anything else is made of them."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from diaphragm_fem.errors import DesignError, StudyError, typed

STUDY_TABLES = {"study", "vary"}
OF_A_MATERIAL = {"density", "youngs_modulus", "poisson_ratio", "loss_factor", "based_on"}


def kind_of(data: Mapping[str, Any]) -> str:
    """ "design", "study", "materials", or an empty text for data of no known kind."""
    tables = {key for key, value in data.items() if isinstance(value, Mapping)}
    if "profile" in tables:
        return "study" if {"study", "vary"} <= tables else "design"
    if tables & STUDY_TABLES:
        return "study"
    return "materials" if any(set(data[key]) & OF_A_MATERIAL for key in tables) else ""


def expect_kind(data: Mapping[str, Any], wanted: str, path: Path) -> None:
    """Refuse a file of another kind: its first unknown key would say nothing about that.

    Data of no known kind pass: their own reader tells better what is missing.
    """
    found = kind_of(data)
    if found in (wanted, ""):
        return
    error = StudyError if wanted == "study" else DesignError
    wants = {
        "design": "this verb takes a design file, with a [profile]",
        "study": "this verb takes a study file, with [study] and [vary]",
        "materials": "materials stand in a file of their own, a table for each",
    }[wanted]
    named = typed(path)
    ways = {
        "study": f"for a study write `diaphragm-fem sweep {named}`, or give the design it names as study.base",
        "design": f"for one design write `diaphragm-fem examine {named}`",
        "materials": f"name it in a design file, as materials_file, or write `diaphragm-fem materials --file {named}`",
    }[found]
    has = {"study": "a [study]", "design": "a [profile]", "materials": "numbers of materials"}[found]
    raise error(f"{path}: is a {found} file (it has {has}), and {wants}; {ways}")
