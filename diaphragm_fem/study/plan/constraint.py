"""Constraints of a study: a comparison written in Python's own notation, of which only sums, products and comparisons
of keys and numbers are let through. Everything is in SI units.

    "distance + tread < 0.9 * outer_flank.width"        names of what varies, or paths of keys of the design
    "thickness >= '12 um'"                              an amount with its unit in quotes
    "film == 'PEN film' or thickness > '20 um'"         names compare with == and !=
"""

from __future__ import annotations

import ast
import math
import operator
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.plan.amount import amount_in_si

Look = Callable[[str], Any]

_TWO: dict[type, Callable[[Any, Any], Any]] = {
    ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}  # fmt: skip
_COMPARE: dict[type, Callable[[Any, Any], bool]] = {
    ast.Lt: operator.lt, ast.LtE: operator.le, ast.Gt: operator.gt, ast.GtE: operator.ge,
    ast.Eq: operator.eq, ast.NotEq: operator.ne,
}  # fmt: skip
_FUNCTIONS: dict[str, Callable[..., float]] = {
    "abs": abs, "min": min, "max": max, "sqrt": math.sqrt, "hypot": math.hypot,
    "sin": math.sin, "cos": math.cos, "tan": math.tan, "atan2": math.atan2, "log10": math.log10,
}  # fmt: skip
ALLOWED = f"numbers, keys, amounts in quotes, + - * / **, comparisons, and, or, not, {', '.join(_FUNCTIONS)}"


@dataclass(frozen=True)
class Expression:
    """A checked expression; call `holds(look)` with a function that gives the value of a name or path as written."""

    text: str

    def holds(self, look: Look) -> bool:
        """Whether the constraint holds. `look` raises KeyError for a key that is not there."""
        try:
            return bool(_value(_parse(self.text), look))
        except (ZeroDivisionError, OverflowError, ValueError, TypeError) as error:
            raise StudyError(f'the expression "{self.text}" has no value: {error}') from error

    @property
    def compares(self) -> bool:
        """Whether it is a comparison, or several joined by and, or, not."""
        return _compares(_parse(self.text))

    @property
    def names(self) -> tuple[str, ...]:
        """The names and paths it asks for."""
        found: list[str] = []

        def note(name: str) -> float:
            found.append(name)
            return 1.0

        for node in _terms(_parse(self.text)):
            note(_path(node))
        return tuple(dict.fromkeys(found))


def read_expression(text: str, where: str) -> Expression:
    """Check a text and keep it; StudyError naming the place and the part that is not allowed."""
    try:
        _check(_parse(text))
    except (SyntaxError, ValueError) as error:
        reason = getattr(error, "msg", None) or str(error)
        raise StudyError(
            f'{where}: "{text}" is no expression of this study ({reason}); allowed are {ALLOWED}'
        ) from error
    return Expression(text)


@lru_cache(maxsize=256)
def _parse(text: str) -> ast.expr:
    return ast.parse(text.strip(), mode="eval").body


def _compares(node: ast.expr) -> bool:
    match node:
        case ast.Compare():
            return True
        case ast.BoolOp(values=values):
            return all(_compares(value) for value in values)
        case ast.UnaryOp(op=ast.Not(), operand=operand):
            return _compares(operand)
    return False


def _terms(node: ast.AST) -> list[ast.expr]:
    if isinstance(node, ast.Name | ast.Attribute | ast.Subscript):
        return [node]
    children = node.args if isinstance(node, ast.Call) else list(ast.iter_child_nodes(node))
    return [term for child in children for term in _terms(child)]


def _check(node: ast.expr) -> None:
    match node:
        case ast.Constant(value=bool()):
            raise ValueError("true and false are not values here")
        case ast.Constant(value=int() | float() | str()):
            return
        case ast.Name() | ast.Attribute() | ast.Subscript():
            _path(node)
        case ast.BinOp() if type(node.op) in _TWO:
            _check(node.left)
            _check(node.right)
        case ast.UnaryOp(op=ast.USub() | ast.UAdd() | ast.Not()):
            _check(node.operand)
        case ast.BoolOp():
            for value in node.values:
                _check(value)
        case ast.Compare() if all(type(op) in _COMPARE for op in node.ops):
            for value in (node.left, *node.comparators):
                _check(value)
        case ast.Call(func=ast.Name(id=name), keywords=[]) if name in _FUNCTIONS:
            for value in node.args:
                _check(value)
        case _:
            raise ValueError(f"'{ast.unparse(node)}' is not allowed")


def _path(node: ast.expr) -> str:
    match node:
        case ast.Name(id=name):
            return name
        case ast.Attribute(value=value, attr=name):
            return f"{_path(value)}.{name}"
        case ast.Subscript(value=value, slice=ast.Constant(value=int() as index)):
            return f"{_path(value)}[{index}]"
        case ast.Subscript(value=value, slice=ast.Constant(value=str() as name)):
            return f'{_path(value)}["{name}"]'
    raise ValueError(f"'{ast.unparse(node)}' is no path of a key")


def _plain(written: Any) -> Any:
    value = amount_in_si(written)
    return written if value is None else value


def _value(node: ast.expr, look: Look) -> Any:
    match node:
        case ast.Constant(value=value):
            return _plain(value)
        case ast.Name() | ast.Attribute() | ast.Subscript():
            return _plain(look(_path(node)))
        case ast.BinOp(left=left, op=op, right=right):
            return _TWO[type(op)](_value(left, look), _value(right, look))
        case ast.UnaryOp(op=op, operand=operand):
            value = _value(operand, look)
            return (not value) if isinstance(op, ast.Not) else (-value if isinstance(op, ast.USub) else value)
        case ast.BoolOp(op=ast.And(), values=values):
            return all(_value(value, look) for value in values)
        case ast.BoolOp(values=values):
            return any(_value(value, look) for value in values)
        case ast.Compare(left=left, ops=ops, comparators=comparators):
            one = _value(left, look)
            for comparison, comparator in zip(ops, comparators, strict=True):
                other = _value(comparator, look)
                if not _COMPARE[type(comparison)](one, other):
                    return False
                one = other
            return True
        case ast.Call(func=ast.Name(id=name), args=args):
            return _FUNCTIONS[name](*(_value(arg, look) for arg in args))
    raise ValueError(f"'{ast.unparse(node)}' is not allowed")
