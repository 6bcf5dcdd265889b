"""JSON schema of one material table, for editors that complete and check design files and materials files."""

from __future__ import annotations

from typing import Any

from diaphragm_fem.design.library import EXAMPLES, MATERIAL_KEYS, NUMBERS
from diaphragm_fem.design.material import Kind

ABOUT = {
    "based_on": "A known material from which every number not given here is taken.",
    "note": "A remark for the reader.",
    "caution": "What a person handling the substance must know.",
}


def material_table_schema() -> dict[str, Any]:
    """Schema of the table of one material; the reader checks more (units, bounds, known bases)."""
    texts = {
        key: {"type": "string", "minLength": 1, "description": ABOUT[key]}
        for key in MATERIAL_KEYS
        if key not in NUMBERS
    }
    return {
        "type": "object",
        "additionalProperties": False,
        "properties": {**{quantity: _number_schema(quantity) for quantity in NUMBERS}, **texts},
    }


def _number_schema(quantity: str) -> dict[str, Any]:
    plain: dict[str, Any] = {"type": "string"} if quantity in ("density", "youngs_modulus") else {"type": "number"}
    value = {"anyOf": [plain, {"type": "array", "items": plain}]} if quantity == "loss_factor" else plain
    properties: dict[str, Any] = {
        "value": {**value, "description": f"The number, for example {EXAMPLES[quantity]}."},
        "kind": {"enum": [kind.value for kind in Kind], "description": "How the number is known."},
        "source": {"type": "string", "minLength": 1, "description": "Where the number comes from."},
        "range": {
            "type": "array",
            "items": plain,
            "minItems": 2,
            "maxItems": 2,
            "description": "Lowest and highest value met between grades or sources.",
        },
    }
    if quantity == "loss_factor":
        properties["frequency"] = {
            "type": "array",
            "items": {"type": "string"},
            "description": 'A frequency for each value of a table, such as ["100 Hz", "10 kHz"].',
        }
    entry = {"type": "object", "additionalProperties": False, "required": ["value"], "properties": properties}
    return {"anyOf": [value, entry], "description": f"for example {EXAMPLES[quantity]}"}
