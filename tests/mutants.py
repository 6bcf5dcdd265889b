"""Broken and odd files for the door: bytes changed at random, keys given odd values, files made from the schema alone;
and what must hold of each: figures that are finite, or a refusal that names the file.
"""

import random
import signal
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from copy import deepcopy
from pathlib import Path
from typing import Any

import numpy as np
from hypothesis import strategies as st

from diaphragm_fem.design.files.key_path import parse_path
from diaphragm_fem.design.units.units import EVERYDAY
from diaphragm_fem.errors import DiaphragmError, StudyError, plain

TOP_HZ = 2000.0
POINTS = 40  # of a driver's curves
LONGEST_REFUSAL = 4000
UNITS = [unit for table in EVERYDAY.values() for unit in table]
ODD_UNITS = ["", "furlong", "m**9**9**9", "m/0", "(((m", "g^0", "mm.", "um # 40", "m%", "in.", "Mg", "MPA", "µm",
             "kg m", "degC", "dB", "rad/s", "m;import os", "mm\x1b[2J", "m" * 300]  # fmt: skip
ODD_NUMBERS = ["0", "-1", "1e300", "1e-320", "1e400", "nan", "inf", "0,3", "1 200", "1/8", "1/0", "1/" + "4" * 400,
               "--1", "٣", "9" * 400, "1.7e-18", "4.9", "2.92", "1.98", "1e-9", "1e3", "1e6"]  # fmt: skip
ODD_TEXTS = ["", " ", "=1+1", "$x$", "\x00", "\x1b[31m", "\u202e", "a" * 5000, "a\nb", "PEN film", "titanium", "held",
             "free", "clamped", "../../etc/passwd", "é", "{message}", "%s", "\ud800"]  # fmt: skip
ODD_VALUES: list[Any] = [0, 1, -1, True, 2**70, 10**30, 1.5, float("nan"), float("inf"), [], [[]], {}, {"kind": "v"},
                         ["1 mm"] * 40, {"value": "1 mm"}]  # fmt: skip


def odd_value(pick: random.Random) -> Any:
    """An amount, mostly plausible in form; else a text or a value of another kind."""
    chance = pick.random()
    if chance < 0.45:
        return f"{10 ** pick.uniform(-3, 3):.4g} {pick.choice(['mm', 'um', 'mm', 'g', 'GPa', 'MPa'])}"
    if chance < 0.75:
        number = pick.choice(ODD_NUMBERS) if pick.random() < 0.4 else f"{10 ** pick.uniform(-9, 9):.6g}"
        return f"{number} {pick.choice(ODD_UNITS if pick.random() < 0.3 else UNITS)}"
    return deepcopy(pick.choice(ODD_TEXTS if chance < 0.87 else ODD_VALUES))


def rescaled(value: Any, pick: random.Random) -> Any:
    """An amount or number made up to ten thousand times smaller or larger, often by round steps; others as they are."""
    factor = pick.choice([0.1, 10.0, 0.5, 2.0, 0.999, 1e3, 1e-3, 10 ** pick.uniform(-4, 4), 10 ** pick.uniform(-1, 1)])
    if isinstance(value, str):
        number, _, unit = value.partition(" ")
        try:
            return f"{float(number) * factor:.4g} {unit}"
        except ValueError:
            return odd_value(pick)
    if isinstance(value, int | float) and not isinstance(value, bool):
        return value * factor
    return [rescaled(one, pick) for one in value] if isinstance(value, list) else odd_value(pick)


def changed_keys(data: Mapping[str, Any], paths: list[str], pick: random.Random) -> dict[str, Any]:
    """A copy of a file's data with one to three keys set, dropped or doubled."""
    copy = deepcopy(dict(data))
    for _ in range(pick.choice([1, 1, 1, 2, 3])):
        steps = parse_path(pick.choice(paths))
        place: Any = copy
        try:
            for step in steps[:-1]:
                place = place[step] if isinstance(place, list) else place.setdefault(str(step), {})
            last: Any = steps[-1] if isinstance(place, list) else str(steps[-1])
            if pick.random() < 0.12:
                del place[last]
            elif pick.random() < 0.06:
                place[last] = [place[last]] * pick.choice([2, 3])
            else:
                place[last] = odd_value(pick) if pick.random() < 0.4 else rescaled(place[last], pick)
        except (KeyError, IndexError, TypeError, AttributeError):
            continue
    return copy


TOKENS = [b"=", b"[", b"]", b"[[", b"{", b"}", b'"', b"'", b"\n", b".", b"#", b",", b"0", b"9", b"e9", b"-", b"\x00",
          b"\xff", b"\xc3", b" mm", b" kg", b'"""', b"\\u001b", b"true", b"nan", b"1979-05-27", b"[" * 60, b"a." * 80,
          b"1" * 500, b"0x" + b"f" * 40]  # fmt: skip


def changed_bytes(seed: bytes, pick: random.Random) -> bytes:
    """A file with up to eight pieces cut out, put in, doubled or overwritten."""
    text = bytearray(seed)
    for _ in range(pick.choice([1, 1, 1, 2, 3, 8])):
        at = pick.randrange(len(text) + 1)
        length = pick.choice([1, 1, 2, 5, 30])
        match pick.randrange(10):
            case 0:
                del text[at : at + length]
            case 1:
                text[at:at] = pick.choice(TOKENS)
            case 2:
                text[at : at + 1] = bytes([pick.randrange(256)])
            case 3:
                text[at:at] = text[at : at + 10 * length]
            case 4:
                text[at : at + length] = pick.choice(TOKENS)
            case _:
                digits = [n for n, letter in enumerate(text) if 48 <= letter <= 57]
                if digits:
                    text[pick.choice(digits)] = pick.choice(b"0123456789.-e ")
    return bytes(text)


ODD_TAGS = [b"0", b"-1", b"1e300", b"nan", b"1e-9", b"999999999", b"12", b"x", b"LINE", b"INSERT", b"ROLL", b"SPLINE"]


def changed_tags(seed: bytes, pick: random.Random) -> bytes:
    """A drawing, pairs of lines of a code and a value: some dropped, doubled, swapped or of another value, often a
    number of nearly the same size.
    """
    lines = seed.splitlines()
    pairs = list(zip(lines[::2], lines[1::2], strict=False))
    for _ in range(pick.choice([1, 1, 2, 3, 8])):
        at = pick.randrange(len(pairs))
        code = pairs[at][0]
        match pick.randrange(10):
            case 0:
                del pairs[at : at + pick.choice([1, 1, 2, 6])]
            case 1:
                pairs[at:at] = pairs[at : at + pick.choice([1, 2, 12, 20])]
            case 2:
                other = pick.randrange(len(pairs))
                pairs[at], pairs[other] = pairs[other], pairs[at]
            case 3:
                pairs[at] = (code, pick.choice(ODD_TAGS))
            case _:
                numbers = [n for n, (_, one) in enumerate(pairs) if b"." in one]
                at = pick.choice(numbers)
                factor = pick.choice([-1.0, 0.0, 1.0000001, 1.01, 10 ** pick.uniform(-9, 9)])
                with suppress(ValueError):
                    pairs[at] = (pairs[at][0], repr(float(pairs[at][1]) * factor).encode())
    return b"\n".join(line for pair in pairs for line in pair) + b"\n"


@contextmanager
def within_processor_time(seconds: float) -> Iterator[None]:
    """End a test that hangs; other systems than Unix let it hang."""
    if not hasattr(signal, "setitimer"):
        yield
        return

    def stop(*_: Any) -> None:
        raise TimeoutError(f"took more than {seconds} s of processor time")

    before = signal.signal(signal.SIGVTALRM, stop)
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


def judge_design(path: Path, *, allow_unusual: bool = False) -> str:
    """ "figures", those of what surrounds it among them, or "refused"; AssertionError where the file got neither, and
    any error of the program as it came.
    """
    from diaphragm_fem.answer.driver.driver import answer_driver
    from diaphragm_fem.answer.quick import quick
    from diaphragm_fem.cli.shared import open_design, solving
    from diaphragm_fem.model.shell.shell import build_shell

    with within_processor_time(60.0):
        try:
            file = open_design(path, allow_unusual=allow_unusual)
            with solving(path):
                if file.design.joint is None:
                    build_shell(file.design, up_to_hz=TOP_HZ)
                    return "figures"
                found = quick(file.design, up_to_hz=TOP_HZ)
                driver = answer_driver(file.design, up_to_hz=TOP_HZ, points=POINTS, second_opinion=False)
        except DiaphragmError as error:
            return refused(path, error)
    figures = {**found.figures.table(), **(driver.figures.figures() if driver else {})}
    strange = {name: value for name, value in figures.items() if isinstance(value, float) and not np.isfinite(value)}
    assert not strange, f"{path}: figures that are not finite: {strange}"
    assert np.isfinite(found.solution.scan.total).all(), f"{path}: an area that is not finite"
    level = driver.curve.level_db if driver else None
    assert level is None or np.isfinite(level).all(), f"{path}: a level that is not finite"
    return "figures"


def judge_study(path: Path) -> str:
    """As judge_design, of a study file: its cases can be counted and the first ones written."""
    from diaphragm_fem.cli.shared import naming, open_study
    from diaphragm_fem.study.plan.sampling import Sampler

    with within_processor_time(60.0):
        try:
            study = open_study(path, None)
            sampler = Sampler(study)
            with naming(path, StudyError, "as a study"):
                for number in range(min(len(sampler), 3)):
                    study.recipe.broken_constraint(study.recipe.design_of(sampler.values(number)))
        except DiaphragmError as error:
            return refused(path, error)
    return "figures"


def refused(path: Path, error: DiaphragmError) -> str:
    words = str(error)
    assert plain(str(path)) in words, f"the refusal does not name {path}: {words}"
    assert len(words) < LONGEST_REFUSAL, f"{path}: a refusal of {len(words)} letters: {words[:300]}"
    return "refused"


def from_schema(schema: Mapping[str, Any]) -> st.SearchStrategy[Any]:
    """Data of the shape that a JSON schema says, their texts often odd."""
    return _node(schema, schema.get("$defs", {}), 0)


def _node(node: Mapping[str, Any], definitions: Mapping[str, Any], depth: int) -> st.SearchStrategy[Any]:
    if "$ref" in node:
        return _node(definitions[node["$ref"].rsplit("/", 1)[1]], definitions, depth)
    for choice in ("anyOf", "oneOf"):
        if choice in node:
            return st.one_of([_node(one, definitions, depth) for one in node[choice]])
    if "const" in node:
        return st.just(node["const"])
    if "enum" in node:
        return st.sampled_from(node["enum"])
    match node.get("type"):
        case "object":
            return _table(node, definitions, depth + 1)
        case "array":
            return st.lists(_node(node.get("items", {}), definitions, depth + 1), max_size=3)
        case "string":
            usual = st.sampled_from(node.get("examples") or ["PEN film", "titanium", "a name"])
            return st.one_of(usual, usual, usual, st.builds(odd_value, st.randoms(use_true_random=False)))
        case "integer":
            return st.integers(-2, 200)
        case "number":
            return st.one_of(st.floats(-1, 2), st.sampled_from([float("nan"), float("inf"), 1e308]))
        case "boolean":
            return st.booleans()
    return st.sampled_from([0, "x"])


def _table(node: Mapping[str, Any], definitions: Mapping[str, Any], depth: int) -> st.SearchStrategy[Any]:
    known = {key: _node(value, definitions, depth) for key, value in node.get("properties", {}).items()}
    required = set(node.get("required", ())) & set(known)
    optional = {key: value for key, value in known.items() if key not in required and depth < 5}
    fixed = st.fixed_dictionaries({key: known[key] for key in sorted(required)}, optional=optional)
    if not isinstance(node.get("additionalProperties"), Mapping):
        return fixed
    names = st.sampled_from(["dome", "outer step", "my film", "PEN film", "a.b"])
    more = st.dictionaries(names, _node(node["additionalProperties"], definitions, depth), max_size=2)
    return st.builds(lambda one, other: {**one, **other}, fixed, more)
