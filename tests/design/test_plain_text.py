"""Texts that users chose, in messages, tables, pages."""

import csv
import io

import pytest

from diaphragm_fem.design.files.plain_text import csv_cells, markdown_text
from diaphragm_fem.errors import echo, plain


@pytest.mark.parametrize(("value", "shown"), [
    ("a", "'a'"),
    ("x" * 81, "'" + "x" * 80 + "...' (81 letters)"),
    ("\x1b[31m\x9b\u202e\n", r"'\x1b[31m\x9b\u202e\x0a'"),
    ("a\u061cb\U000e0041\ue000\ufff9", r"'a\u061cb\U000e0041\ue000\ufff9'"),  # turns, is unseen, has no shape
    ("Füße µm 紙\u3000コーン", "'Füße µm 紙\u3000コーン'"),
    (12, "12"),
    (True, "True"),
    ([1] * 100, "[1, 1, 1, 1, 1, 1, ...]"),
])  # fmt: skip
def test_a_value_in_a_message(value, shown):
    assert echo(value) == shown


def test_a_number_that_python_does_not_write():
    assert echo(10**5000) == echo([10**5000]) == "a number of thousands of digits"


def test_long_values_are_short_in_messages():
    for value in ({f"k{i}": "x" * 100 for i in range(100)}, [["x" * 1000] * 10] * 10, "x" * 10**6):
        assert len(echo(value)) <= 110


def test_line_ends_may_be_kept():
    assert plain("a\nb\x07", keep="\n") == "a\nb\\x07"


@pytest.mark.parametrize(("cell", "written"), [
    ("=1+1", "'=1+1"), ("+cmd|' /C calc'!A0", "'+cmd|' /C calc'!A0"), ("-2+3", "'-2+3"), ("@SUM(A1)", "'@SUM(A1)"),
    ("\t=1", "'\\x09=1"), ("a\x1b", "a\\x1b"), ("PEN film", "PEN film"), ("-0.3 mm", "-0.3 mm"), ("-1.5", "-1.5"),
    ("", ""), (-1.5, -1.5), (None, None), (3, 3),
])  # fmt: skip
def test_no_cell_is_a_formula(cell, written):
    assert csv_cells([cell]) == [written]


def test_a_row_of_a_table_survives():
    stream = io.StringIO()
    csv.writer(stream).writerow(csv_cells(["=1,2", 'a"b', 0.5]))
    assert next(csv.reader([stream.getvalue()])) == ["'=1,2", 'a"b', "0.5"]


@pytest.mark.parametrize(("text", "page"), [
    ("north hall, V", "north hall, V"), ("a|b", r"a\|b"), ("<b>", r"\<b\>"), ("[x](y)", r"\[x\](y)"), ("*a*", r"\*a\*"),
    ("_a_ fundamental_hz", r"\_a\_ fundamental_hz"), ("`a`", r"\`a\`"),
    ("a\nb", "a b"), ("$x$", r"\$x\$"), ("\\", "\\\\"),
])  # fmt: skip
def test_no_name_marks_up_a_page(text, page):
    assert markdown_text(text) == page
