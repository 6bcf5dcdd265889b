"""JSON schema of one material table, for editors that complete and check design files and materials files."""

from __future__ import annotations

from typing import Any

from diaphragm_fem.design.library import EXAMPLES, MATERIAL_KEYS, NUMBERS, OVER_FREQUENCY, RELAXATION
from diaphragm_fem.design.material import Kind

ABOUT = {
    "based_on": "A known material from which every number not given here is taken.",
    "note": "A remark for the reader.",
    "caution": "What a person handling the substance must know.",
}
FREQUENCIES = {
    "youngs_modulus": "The frequency at which the modulus was measured (from there it rises as its loss asks), or one "
    "for each value of a table; an empty list: the same at every frequency.",
    "loss_factor": 'A frequency for each value of a table, such as ["100 Hz", "10 kHz"].',
}
RELAXATION_ABOUT = {
    "rise": "Modulus far above the relaxation over youngs_modulus, the modulus at rest.",
    "frequency": 'Where the modulus goes from one to the other, such as "30 kHz".',
    "exponent": "How steeply, above 0 to 1; 0.4 to 0.7 for most polymers (from memory).",
}


def material_table_schema() -> dict[str, Any]:
    """Schema of the table of one material; the reader checks more (units, bounds, known bases)."""
    texts = {
        key: {"type": "string", "minLength": 1, "description": ABOUT[key]} for key in MATERIAL_KEYS if key in ABOUT
    }
    return {
        "type": "object",
        "additionalProperties": False,
        "properties": {
            **{quantity: _number_schema(quantity) for quantity in NUMBERS},
            "relaxation": _relaxation_schema(),
            **texts,
        },
    }


def _relaxation_schema() -> dict[str, Any]:
    numbers = {
        key: {"type": "string" if key == "frequency" else "number", "description": RELAXATION_ABOUT[key]}
        for key in RELAXATION
    }
    return {
        "type": "object",
        "additionalProperties": False,
        "required": list(RELAXATION),
        "description": "Modulus and loss over frequency by one law, the fractional Zener, in place of loss_factor.",
        "properties": {**numbers, **_origin()},
    }


def _origin() -> dict[str, Any]:
    return {
        "kind": {"enum": [kind.value for kind in Kind], "description": "How the number is known."},
        "source": {"type": "string", "minLength": 1, "description": "Where the number comes from."},
    }


def _number_schema(quantity: str) -> dict[str, Any]:
    plain: dict[str, Any] = {"type": "string"} if quantity in ("density", "youngs_modulus") else {"type": "number"}
    value = {"anyOf": [plain, {"type": "array", "items": plain}]} if quantity in OVER_FREQUENCY else plain
    properties: dict[str, Any] = {
        "value": {**value, "description": f"The number, for example {EXAMPLES[quantity]}."},
        **_origin(),
        "range": {
            "type": "array",
            "items": plain,
            "minItems": 2,
            "maxItems": 2,
            "description": "Lowest and highest value met between grades or sources.",
        },
    }
    if quantity in OVER_FREQUENCY:
        steps: dict[str, Any] = {"type": "array", "items": {"type": "string"}}
        one = [{"type": "string"}] if quantity == "youngs_modulus" else []
        properties["frequency"] = {"anyOf": [*one, steps], "description": FREQUENCIES[quantity]}
    entry = {"type": "object", "additionalProperties": False, "required": ["value"], "properties": properties}
    return {"anyOf": [value, entry], "description": f"for example {EXAMPLES[quantity]}"}
