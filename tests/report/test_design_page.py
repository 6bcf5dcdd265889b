"""The page of one design as text: what it may load, what its data says, equal input gives equal bytes."""

import json
import re
from base64 import b64decode
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from report_cases import MARKUP, metal_dome, named_with_markup, stepped_v, undriven_disc

from diaphragm_fem.report.blocks.blocks import Table
from diaphragm_fem.report.blocks.pages import render
from diaphragm_fem.report.page.design import design_data, kept_points, shapes_of, write_design_page
from diaphragm_fem.report.page.packing import KINDS, packed, packed_rows

MEGABYTE = 1_000_000


def unpacked(item: dict[str, Any]) -> np.ndarray:
    values = np.frombuffer(b64decode(item["data"]), KINDS[item["kind"]]).reshape(item["shape"])
    if "step" in item:
        step = unpacked(item["step"])
        return values * step.reshape(-1, *[1] * (values.ndim - 1))
    return values


def data_of(text: str) -> dict[str, Any]:
    return json.loads(re.search(r'<script type="application/json" id="data">(.*?)</script>', text, re.DOTALL)[1])


def test_arrays_come_back() -> None:
    rng = np.random.default_rng(5)
    rows = rng.normal(size=(4, 2, 9)) * np.array([1e-9, 1.0, 1e6, 0.0])[:, None, None]
    largest = np.abs(rows).max(axis=(1, 2), keepdims=True)
    # half a step of 1/32767 of the row's largest value
    assert np.all(np.abs(unpacked(packed_rows(rows)) - rows) <= largest / 32767 / 2 * (1 + 1e-9))
    np.testing.assert_array_equal(unpacked(packed(rows)), rows)
    np.testing.assert_array_equal(unpacked(packed(np.array([1 + 2j]))), [[1.0, 2.0]])


def test_its_data_holds_the_reduced_model() -> None:
    """Solved again in numpy from what the page was given, area and response are those of the curve."""
    found = stepped_v()
    model, area = design_data(found)["model"], found.area
    size = len(unpacked(model["drive"]))
    grid = np.geomspace(model["from_hz"], model["up_to_hz"], model["grid"])
    for k in (0, 120, 301, 399):
        hz = float(area.frequency_hz[k])
        whole = np.zeros((size, size), complex)
        for term in model["terms"]:
            matrix = np.zeros((size, size))
            matrix[np.triu_indices(size)] = unpacked(term["matrix"])
            re, im = unpacked(term["factor"]).T
            at = [np.interp(np.log(hz), np.log(grid), x) if len(x) > 1 else x[0] for x in (re, im)]
            factor = complex(*at) * (2j * np.pi * hz) ** term["derivatives"]
            whole += factor * (matrix + np.triu(matrix, 1).T)
        y = np.linalg.solve(whole, unpacked(model["drive"]))
        total = unpacked(model["volume"]).sum(axis=0) @ y / (unpacked(model["pickup"]) @ y)
        # the moduli are read between grid points in 32 bits: 1e-6 as measured, 1e-5 beside peaks
        assert abs(total - area.total[k]) < 2e-5 * abs(area.total[k])


def test_its_curves_and_modes_are_those_of_the_answer() -> None:
    """The response in dB against low area over moving mass; of each mode the zone that moves most."""
    found = stepped_v()
    data, area, static = design_data(found), found.area, found.static
    curve = {name: unpacked(data["curve"][name]) for name in ("hz", "total", "share", "response_db", "swept")}
    plateau = abs(static.low.sum()) / static.moving_mass
    np.testing.assert_allclose(curve["response_db"], 20 * np.log10(np.abs(area.response) / plateau), atol=1e-3)
    np.testing.assert_array_equal(curve["hz"], area.frequency_hz)
    np.testing.assert_allclose(curve["total"] @ (1, 1j), area.total, rtol=1e-12)
    np.testing.assert_allclose(curve["share"], np.nan_to_num(area.share.real), atol=1e-5)
    np.testing.assert_allclose(curve["swept"], area.absolute, rtol=1e-6)
    assert data["low_area_m2"] == pytest.approx(abs(static.low.sum())) and data["plateau"] == pytest.approx(plateau)
    for mode in data["mode_list"]:
        moving = found.modes[mode["m"]].kinetic_share[mode["k"]]
        assert moving[mode["zone"]] == moving.max() and mode["hz"] == found.modes[mode["m"]].frequency_hz[mode["k"]]


def test_shapes_have_all_three_directions() -> None:
    found = stepped_v()
    shapes = shapes_of(found)
    surface, modes = found.structures[2].surface, found.modes[2]
    held, points = unpacked(shapes["2"]["shape"]), unpacked(shapes["2"]["point"])
    assert held.shape[1] == 3 and shapes["0"]["shape"]["shape"][1] == 2
    around = np.asarray(surface.motion_t @ modes.vectors)[points].T
    scale = held[:, 2] @ np.ones(len(points)) / (around @ np.ones(len(points)))
    # a shape is scaled as a whole; steps of 1/32767 of its largest motion
    assert np.abs(held[:, 2] - scale[:, None] * around).max() < 1e-4
    assert np.abs(held[:, 2]).max() > 0.05
    assert np.sqrt((held**2).sum(axis=1)).max() == pytest.approx(1.0, abs=1e-4)


def test_kept_points_hold_every_end() -> None:
    zone, run = np.array([0, 0, 0, 0, 1, 1, 1, 2, 2]), np.array([0, 0, 0, 0, 0, 0, 0, 1, 1])
    np.testing.assert_array_equal(kept_points(zone, run, 100), [0, 3, 4, 6, 7, 8])
    np.testing.assert_array_equal(kept_points(zone, run, 1), np.arange(9))


def test_equal_input_gives_equal_bytes(tmp_path) -> None:
    one = write_design_page(metal_dome(), tmp_path / "one.html", "text").read_bytes()
    assert one == write_design_page(metal_dome(), tmp_path / "other.html", "text").read_bytes()


def test_size_and_policy(tmp_path) -> None:
    text = write_design_page(stepped_v(), tmp_path / "page.html", "x").read_text(encoding="utf-8")
    assert len(text.encode()) < MEGABYTE
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', text)[1]
    assert policy.startswith("default-src &#39;none&#39;; style-src &#39;sha256-")
    assert "unsafe" not in policy
    assert not re.search(r"(src|href)=|url\(|@import|fetch\(|XMLHttp|innerHTML", text.replace("url(#", ""))


def test_names_with_markup_stay_text(tmp_path) -> None:
    text = write_design_page(named_with_markup(), tmp_path / "page.html", MARKUP).read_text(encoding="utf-8")
    assert text.count("<script") == text.count("</script>") == 2
    assert "<img" not in text
    assert data_of(text)["zones"][0]["name"] == MARKUP


def test_a_part_without_a_drive_has_a_page_of_its_modes(tmp_path) -> None:
    text = write_design_page(undriven_disc(), tmp_path / "page.html").read_text(encoding="utf-8")
    data = data_of(text)
    assert "model" not in data and data["mode_list"]
    assert 'id="ladder"' in text and 'id="frequency"' not in text


PAGE = {"title": "t", "stamp": (), "version": "0", "policy": "", "style": "", "script": "", "data": {"page": "v"}}


def test_numbers_keep_their_units_where_a_line_is_broken() -> None:
    """In words and cells of a page, escaped as ever; what is set as code is to be copied as it stands."""
    words = '<b>3 %, 5.90 kHz & 2 dB: `--set "x=60 um, 3 mm"`'
    item = Table(("what",), [(words,)], note=words)
    page = render("page/templates/verification.html.jinja", **PAGE, blocks=[item], picture="")
    held = "&lt;b&gt;3\u00a0%, 5.90\u00a0kHz &amp; 2\u00a0dB: "
    assert f"<td>{held}" in page and f'<p class="opening">{held}<code>' in page
    assert "60 um, 3 mm" in page.split("<code>")[1]


def test_no_number_of_a_page_is_parted_from_its_unit(tmp_path: Path) -> None:
    text = write_design_page(stepped_v(), tmp_path / "page.html", "x").read_text(encoding="utf-8")
    words = re.sub(r"<(script|style|pre|header)\b.*?</\1>", "", text, flags=re.DOTALL)
    assert "\u00a0kHz" in words and not re.findall(r"[0-9] (?:kHz|Hz|%|dB)", words)


def test_a_page_without_any_order_has_no_shapes_to_show() -> None:
    """Who asks for curves alone got no folder at all, but an error without words."""
    data = design_data(replace(stepped_v(), structures={}, modes={}))
    assert data["zones"] and data["modes"] == {} and "surface" not in data
