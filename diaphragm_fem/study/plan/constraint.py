"""Constraints of a study: comparisons of keys, numbers and amounts, evaluated by simpleeval.

    "distance + tread < 0.9 * outer_flank.width"        names of what varies, or paths of keys of the design
    "thickness >= '12 um'"                              an amount with its unit in quotes
    "film == 'PEN film' or thickness > '20 um'"         names compare with == and !=

When a study is read, every part of an expression is evaluated once with quantities of Pint, so that a length is
compared with lengths alone; the cases are then judged by plain numbers in SI, some 6 us each. Nothing but the parts
named in ALLOWED is ever evaluated.
"""

import ast
import math
import operator
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from simpleeval import InvalidExpression, SimpleEval

from diaphragm_fem.design.units.units import pint_quantity
from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.plan.amount import amount_in_si, kinds, split_amount

Look = Callable[[str], Any]

LONGEST, HIGHEST_POWER = 1000, 10
MOST_CONSTRAINTS = 250  # of a study, and kept parsed: of more each case would parse every one anew
OPERATORS: dict[type, Callable[..., Any]] = {
    ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv,
    ast.Pow: operator.pow, ast.USub: operator.neg, ast.UAdd: operator.pos, ast.Not: operator.not_,
    ast.Lt: operator.lt, ast.LtE: operator.le, ast.Gt: operator.gt, ast.GtE: operator.ge,
    ast.Eq: operator.eq, ast.NotEq: operator.ne,
}  # fmt: skip
FUNCTIONS: dict[str, Callable[..., float]] = {
    "abs": abs, "min": min, "max": max, "sqrt": math.sqrt, "hypot": math.hypot,
    "sin": math.sin, "cos": math.cos, "tan": math.tan, "atan2": math.atan2, "log10": math.log10,
}  # fmt: skip
ALLOWED = f"numbers, keys, amounts in quotes, + - * / **, comparisons, and, or, not, {', '.join(FUNCTIONS)}"
_NO_VALUE = (InvalidExpression, ArithmeticError, ValueError, TypeError, RecursionError)


@dataclass(frozen=True)
class Expression:
    """A checked expression; call `holds(look)` with a function that gives the value of a name or path as written."""

    text: str

    def holds(self, look: Look) -> bool:
        """Whether the constraint holds. `look` raises KeyError for a key that is not there."""
        try:
            simple, tree = _by_numbers(self.text)
            simple.names = look
            return bool(simple.eval(self.text, tree))
        except _NO_VALUE as error:
            raise StudyError(f'the expression "{self.text}" has no value: {error}') from error


def read_expression(text: str, where: str, look: Look) -> Expression:
    """Check a text and keep it. `look` gives a value of the right kind for a name or path, as a design file writes it.

    Raises StudyError naming the place, and the part that is not allowed, compares nothing, or mixes kinds.
    """
    try:
        if not _Check(look).compares(_parse(text)):
            raise StudyError(
                f'{where}: "{text}" compares nothing, so it would always hold; write for example "{text} > 0"'
            )
    except _Mixed as error:
        raise StudyError(f'{where}, "{text}": {error}') from None
    except (SyntaxError, MemoryError, AttributeError, *_NO_VALUE) as error:
        reason = getattr(error, "msg", None) or str(error) or type(error).__name__
        raise StudyError(
            f'{where}: "{text[:80]}" is no expression of this study ({reason[:200]}); allowed are {ALLOWED}'
        ) from error
    return Expression(text)


@lru_cache(MOST_CONSTRAINTS)
def _parse(text: str) -> ast.expr:
    if len(text) > LONGEST:
        raise ValueError(f"longer than {LONGEST} letters")
    return ast.parse(text.strip(), mode="eval").body


@lru_cache(MOST_CONSTRAINTS)
def _by_numbers(text: str) -> tuple[SimpleEval, ast.expr]:
    """An expression and its evaluator in SI, whose `names` gives the value of a name as written."""
    simple = _evaluator(FUNCTIONS)

    def constant(node: ast.Constant) -> float | str:
        return _in_si(node.value)

    def key(node: ast.expr) -> float | str:
        return _in_si(simple.names(_path(node)))

    simple.nodes |= {ast.Constant: constant, ast.Name: key, ast.Attribute: key, ast.Subscript: key}
    return simple, _parse(text)


def _evaluator(functions: dict[str, Any]) -> SimpleEval:
    """simpleeval with what is allowed alone."""
    simple = SimpleEval(operators=OPERATORS, functions=functions)
    kept = (ast.UnaryOp, ast.BinOp, ast.BoolOp, ast.Compare, ast.Call)
    simple.nodes = {kind: simple.nodes[kind] for kind in kept}
    return simple


def _in_si(written: Any) -> float | str:
    value = amount_in_si(written)
    return written if value is None else value


@lru_cache(maxsize=1024)
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


class _Mixed(Exception):
    """Amounts of different kinds where they must be of one."""


class _Check:
    """An expression evaluated with quantities: every part of it, whatever the others come to."""

    def __init__(self, look: Look) -> None:
        self._look = look
        self._seen: dict[str, Any] = {}
        one_kind = dict.fromkeys(("abs", "min", "max", "hypot"), _of_one_kind)
        angles = dict.fromkeys(("sin", "cos", "tan"), _of_an_angle)
        others = {"sqrt": lambda value: value**0.5, "atan2": _angle_of, "log10": _of_a_number}
        self._simple = _evaluator({**one_kind, **angles, **others})
        key = self._key
        self._simple.nodes |= {
            ast.Constant: self._constant, ast.Name: key, ast.Attribute: key, ast.Subscript: key,
            ast.BinOp: self._sum_or_product, ast.Compare: self._comparison, ast.BoolOp: self._joined,
        }  # fmt: skip

    def compares(self, node: ast.expr) -> bool:
        """Whether it is a comparison, or several joined by and, or, not."""
        return isinstance(self._value(node), bool)

    def _value(self, node: ast.expr) -> Any:
        return self._simple.eval("", node)

    def _amount(self, node: ast.expr) -> Any:
        value = self._value(node)
        if isinstance(value, bool | str):
            hint = ", and no amount with a unit known here" if isinstance(value, str) and value[:1].isdigit() else ""
            raise _Mixed(f"{ast.unparse(node)} is no number{hint}")
        return value

    def _constant(self, node: ast.Constant) -> Any:
        if isinstance(node.value, bool) or not isinstance(node.value, int | float | str):
            raise ValueError(f"'{ast.unparse(node)}' is not allowed")
        return self._quantity(node.value)

    def _key(self, node: ast.expr) -> Any:
        path = _path(node)
        if path not in self._seen:
            self._seen[path] = self._look(path)
        return self._quantity(self._seen[path])

    def _quantity(self, written: Any) -> Any:
        """A quantity of the kind of what is written, of any size: no two alike, so that differences are not zero."""
        part = split_amount(written)
        if part is None:
            return str(written)
        unit = next(iter(kinds(part[1])), "")
        return pint_quantity(1.37 + 0.618 * len(self._seen), unit)

    def _sum_or_product(self, node: ast.BinOp) -> Any:
        left, right = self._amount(node.left), self._amount(node.right)
        if isinstance(node.op, ast.Pow):
            return left ** _power(node.right)
        if isinstance(node.op, ast.Add | ast.Sub):
            self._expect_one_kind(node.left, left, node.right, right)
            return left
        if type(node.op) not in OPERATORS:
            raise ValueError(f"'{ast.unparse(node)}' is not allowed")
        return OPERATORS[type(node.op)](left, right)

    def _comparison(self, node: ast.Compare) -> bool:
        sides = [node.left, *node.comparators]
        for one, op, other in zip(sides, node.ops, sides[1:], strict=False):
            if type(op) not in OPERATORS:
                raise ValueError(f"'{ast.unparse(node)}' is not allowed")
            values = self._value(one), self._value(other)
            if all(isinstance(value, str) for value in values) and isinstance(op, ast.Eq | ast.NotEq):
                continue
            self._expect_one_kind(one, self._amount(one), other, self._amount(other))
        return True

    def _joined(self, node: ast.BoolOp) -> bool | None:
        return True if all([self.compares(value) for value in node.values]) else None

    def _expect_one_kind(self, one: ast.expr, left: Any, other: ast.expr, right: Any) -> None:
        zero = [isinstance(node, ast.Constant) and node.value == 0 for node in (one, other)]
        if left.dimensionality == right.dimensionality or any(zero):
            return
        parts = [(one, self._unit(one, left)), (other, self._unit(other, right))]
        told = [f"{ast.unparse(node)} is {f'in {unit}' if unit else 'a plain number'}" for node, unit in parts]
        meant = parts[0][1] or parts[1][1]
        bare = next((str(node.value) for node, unit in parts if isinstance(node, ast.Constant) and not unit), None)
        raise _Mixed(f"{' and '.join(told)}; write " + (f"'{bare} {meant}'" if bare else f"an amount in {meant}"))

    def _unit(self, node: ast.expr, quantity: Any) -> str:
        """The unit of a part as its writer knows it: that of the first key or amount of the same kind in it."""
        for part in ast.walk(node):
            if isinstance(part, ast.Constant):
                written = part.value
            elif isinstance(part, ast.Name | ast.Attribute | ast.Subscript):
                written = self._seen.get(_path(part))
            else:
                continue
            amount = split_amount(written)
            if amount and amount[1] and self._quantity(written).dimensionality == quantity.dimensionality:
                return amount[1]
        return f"{quantity.units:~C}".replace("**", "^")


def _power(node: ast.expr) -> float:
    """A power: a plain number that is written out, and small."""
    negative = isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub)
    number = node.operand if isinstance(node, ast.UnaryOp) and negative else node
    value = number.value if isinstance(number, ast.Constant) else None
    if not isinstance(value, int | float) or not abs(value) <= HIGHEST_POWER:
        raise ValueError(f"a power must be a number up to {HIGHEST_POWER}, not '{ast.unparse(node)}'")
    return -value if negative else value


def _of_one_kind(*values: Any) -> Any:
    if len({str(value.dimensionality) for value in values}) != 1:
        raise _Mixed("abs, min, max and hypot take amounts of one kind")
    return values[0]


def _of_an_angle(value: Any) -> Any:
    if value.dimensionality not in (pint_quantity(1.0, "rad").dimensionality, pint_quantity(1.0, "").dimensionality):
        raise _Mixed("sin, cos and tan take an angle, or its radians as a plain number")
    return pint_quantity(0.5, "")


def _angle_of(one: Any, other: Any) -> Any:
    _of_one_kind(one, other)
    return pint_quantity(0.5, "rad")


def _of_a_number(value: Any) -> Any:
    if not value.dimensionless:
        raise _Mixed("log10 takes a plain number: divide by an amount first")
    return value
