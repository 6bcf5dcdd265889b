"""Measured curves from files: tables and universal files, in SI whatever they were written in, and each refusal."""

import random
from pathlib import Path

import numpy as np
import pytest
import pyuff
from mutants import changed_bytes, within_processor_time

from diaphragm_fem.design.measured.curve_file import read_measured_file
from diaphragm_fem.design.measured.measured import QUANTITIES, MeasuredCurve
from diaphragm_fem.design.measured.universal_file import Shape, write_curves, write_shapes
from diaphragm_fem.errors import DesignError

F = np.geomspace(100.0, 20e3, 57)
VALUES = np.exp(1j * np.linspace(0, 9, 57)) * np.linspace(1, 3, 57) / 7


def table(folder: Path, text: str):
    path = folder / "curve.csv"
    path.write_text(text, encoding="utf-8")
    return read_measured_file(path)


def test_a_table_in_its_declared_units(tmp_path):
    area, response, level, velocity = table(tmp_path, """# a remark
frequency [kHz], area [cm2], area phase [deg], response [dB re 1 m2/kg], level [dB re 20 uPa], velocity at 12.5 mm [dB]
0.1, 10, 0, 20, 94, 0
0.2, 20, 90, 0, 100, -6.0206

0.4, 30, 180, -20, 80, 20
""")  # fmt: skip
    np.testing.assert_allclose(area.frequency_hz, [100, 200, 400])
    np.testing.assert_allclose(area.values, [1e-3, 2e-3j, -3e-3], atol=1e-18)
    np.testing.assert_allclose(response.values, [10, 1, 0.1])
    assert level.values[0] == pytest.approx(20e-6 * 10 ** (94 / 20))
    assert not response.phase and area.phase
    assert velocity.r == pytest.approx(12.5e-3)
    np.testing.assert_allclose(velocity.values, [1, 0.5, 10], rtol=1e-6)
    assert velocity.title == "axial velocity over the coil's at r = 12.5 mm"


def test_real_and_imaginary_parts(tmp_path):
    lines = "\n".join(f"{f!r}, {v.real!r}, {v.imag!r}" for f, v in zip(F.tolist(), VALUES.tolist(), strict=True))
    head = "frequency [Hz], mobility at 3 mm real [mm/s/N], mobility at 3 mm imag [mm/s/N]"
    (mobility,) = table(tmp_path, f"{head}\n{lines}")
    np.testing.assert_array_equal(mobility.values, 1e-3 * VALUES)


HEAD = "frequency [Hz], area [cm2]\n"


@pytest.mark.parametrize(("text", "words"), [
    ("", "holds no curve; its first line must be a heading such as `frequency"),
    ("frequency [Hz]\n1\n", "needs the frequency and one curve at least"),
    ("area [cm2], frequency [Hz]\n", "the first column, and no other, is headed `frequency \\[Hz\\]`; received 'area"),
    (HEAD + "1, 2\n2, -3\n3, 4\n", "values without a phase are sizes, at least 0; received one below 0 at 2 Hz"),
    ("frequency [Hz], area\n", "the column 'area' needs its unit"),
    ("frequency, area [cm2]\n", "the column 'frequency' needs its unit"),
    ("frequency [mm], area [cm2]\n", "'mm' is not a unit of frequency"),
    ("frequency [Hz], aera [cm2]\n", "unknown quantity 'aera'; did you mean 'area'"),
    ("frequency [Hz], area [mm]\n", "the unit 'mm' of 'area': .* is not a unit of area"),
    ("frequency [Hz], area [dB]\n", r"a level of 'area' needs what it is against, as in \[dB re 1 m2\]"),
    ("frequency [Hz], level [dB]\n", r"a level of 'level' needs what it is against, as in \[dB re 20 uPa\]"),
    ("frequency [Hz], velocity [dB]\n", "'velocity' needs its radius, as in `velocity at 12.5 mm"),
    ("frequency [Hz], area at 3 mm [cm2]\n", "'area' is taken of the whole and has no radius"),
    ("frequency [Hz], velocity at 3 mm [m/s]\n", "'velocity' is a ratio"),
    ("frequency [Hz], area real [dB re 1 m2], area imag [m2]\n", "a level in dB is a size"),
    ("frequency [Hz], area [m2], area phase [deg]\n1,1,0\n2,1,1e9\n", r"'area': its phase must .* 1e\+06 rad; rec"),
    ("frequency [Hz], area real [m2]\n1,1\n", "'area' needs its size, size and phase, or real and imag; received real"),
    ("frequency [Hz], area [m2], area size [m2]\n", "the column 'area size .*' stands there twice"),
    (HEAD + "1, 2\n2, x\n", "line 3, column 'area .*': must be a number; received 'x'"),
    (HEAD + "1, 2\n2, 1_0\n", "line 3, column 'area .*': must be a number; received '1_0'"),
    (HEAD + "1, 2\n2\n", "line 3: the line needs 2 values like the heading; received 1"),
    (HEAD + "1,5, 2\n", "like the heading; commas part columns, a point decimals; received 3"),
    ("frequency [Hz];area [cm2]\n1,5;2\n", "commas part columns, a point decimals; received 'frequency"),
    ("frequency [Hz]\tarea [cm2]\n1\t2\n", "commas part columns, a point decimals; received 'frequency"),
    (HEAD + "1, 2\n2, 3\n", "a curve needs 3 to 100000 points; received 2"),
    (HEAD + "1, 2\n3, 2\n2, 2\n", "frequencies must rise from above 0 Hz; received 2 Hz after 3 Hz"),
    (HEAD + "0, 2\n3, 2\n4, 2\n", "frequencies must rise from above 0 Hz; received 0 Hz"),
    (HEAD + "1, 2\n2, nan\n3, 2\n", "must be finite numbers"),
    (HEAD + "1, 0\n2, 0\n3, 0\n", "all values are 0"),
    (HEAD + "1, 0\n2, 1e308\n3, 0\n", r"largest value must lie from 1e-15 to 1e\+15 in SI .* received 1e\+304"),
    (HEAD + "1, 0\n2, 1e-300\n3, 0\n", "what can be drawn; received 1e-304"),
    (HEAD + "1, 2\n2, 2\n1e300, 2\n", r"frequencies up to 1e\+09 Hz"),
])  # fmt: skip
def test_what_is_refused(tmp_path, text, words):
    with pytest.raises(DesignError, match=words) as error:
        table(tmp_path, text)
    assert "curve.csv" in str(error.value)


def every_quantity():
    place = {True: {"r": 0.01234, "z": 0.00321}, False: {}}
    return [MeasuredCurve(q, F, VALUES, True, "made", **place[q.at_a_point]) for q in QUANTITIES.values()]


def test_curves_survive_a_universal_file(tmp_path):
    """Twelve digits of a value and six of a frequency are written: 5e-12 and 5e-6 at most of what they round."""
    path = write_curves(tmp_path / "curves.uff", every_quantity(), "a remark")
    found = read_measured_file(path)
    assert [curve.quantity.name for curve in found] == list(QUANTITIES)
    for curve in found:
        np.testing.assert_allclose(curve.values, VALUES, rtol=1e-11)
        np.testing.assert_allclose(curve.frequency_hz, F, rtol=5e-6)
        if curve.quantity.at_a_point:
            assert (curve.r, curve.z) == pytest.approx((0.01234, 0.00321), rel=5e-6)
    again = write_curves(tmp_path / "again.uff", every_quantity(), "a remark")
    assert path.read_bytes() == again.read_bytes()


def measured_set(**keys):
    """A data set 58 as another program writes it: acceleration over force along the axis at node 5."""
    return {
        "type": 58, "binary": 0, "func_type": 4, "rsp_node": 5, "rsp_dir": 3, "ref_node": 1, "ref_dir": 3,
        "abscissa_spacing": 0, "abscissa_spec_data_type": 18, "ordinate_spec_data_type": 12,
        "orddenom_spec_data_type": 13, "z_axis_spec_data_type": 0, "x": F, "data": np.array(VALUES), **keys,
    }  # fmt: skip


def universal(folder: Path, *sets):
    path = folder / "measured.uff"
    pyuff.UFF(str(path)).write_sets([dict(one) for one in sets], mode="overwrite")
    return read_measured_file(path)


NODES = {"type": 15, "node_nums": [4, 5], "x": [1.0, 3.0], "y": [0.0, 4.0], "z": [0.0, 2.0]}
IN_MM = {"type": 164, "units_code": 9, "units_description": "mm", "temp_mode": 1, "length": 1000.0, "force": 1000.0,
         "temp": 1.0, "temp_offset": 273.15}  # fmt: skip


@pytest.mark.parametrize(("kind", "power"), [(8, 1), (11, 0), (12, -1)])
def test_motion_over_force_becomes_a_velocity(tmp_path, kind, power):
    (curve,) = universal(tmp_path, NODES, measured_set(ordinate_spec_data_type=kind))
    assert curve.quantity.name == "mobility"
    np.testing.assert_allclose(curve.values, VALUES * (2j * np.pi * F) ** power, rtol=1e-4)  # six digits of frequency
    assert (curve.r, curve.z) == pytest.approx((5.0, 2.0))


def test_units_of_the_file_are_kept_to(tmp_path):
    """A data set 164 says what SI numbers are multiplied by: places in mm, forces in mN: mm/s per mN is m/s per N."""
    (curve,) = universal(tmp_path, IN_MM, NODES, measured_set(ordinate_spec_data_type=11))
    np.testing.assert_allclose(curve.values, VALUES, rtol=1e-11)
    assert curve.r == pytest.approx(5e-3)


def test_the_abscissa_is_in_the_unit_of_its_label(tmp_path):
    (curve,) = universal(tmp_path, NODES, measured_set(abscissa_axis_units_lab="kHz", x=F / 1000))
    np.testing.assert_allclose(curve.frequency_hz, F, rtol=1e-5)


# a colour of -1 ends its line as the mark of a data set does
NODES_2411 = {**NODES, "type": 2411, "def_cs": [1, 1], "disp_cs": [1, 1], "color": [-1, 11]}


@pytest.mark.parametrize("change", [
    lambda text: text,
    lambda text: text.replace(b"\n", b"\r\n") + b"\x1a",  # as DOS ends lines and files
    lambda text: b"\xef\xbb\xbf" + text,
    lambda text: b"\n".join(line.ljust(80) for line in text.split(b"\n")),
    lambda text: b"\n".join(line.rstrip() for line in text.split(b"\n")),
])  # fmt: skip
def test_nodes_of_both_kinds_in_files_as_other_programs_write_them(tmp_path, change):
    universal(tmp_path, IN_MM, NODES_2411, NODES, measured_set(ordinate_spec_data_type=11, id1="58b, no binary form"))
    path = tmp_path / "measured.uff"
    path.write_bytes(change(path.read_bytes()))
    (curve,) = read_measured_file(path)
    assert (curve.r, curve.z) == pytest.approx((5e-3, 2e-3))
    np.testing.assert_allclose(curve.values, VALUES, rtol=1e-11)


def test_sizes_alone_are_taken_as_sizes(tmp_path):
    """Those of an acceleration were given the phase of what makes a velocity of it, from behind half a turn more."""
    (curve,) = universal(tmp_path, NODES, measured_set(data=np.abs(VALUES), rsp_dir=-3))
    np.testing.assert_allclose(curve.values, np.abs(VALUES) / (2 * np.pi * F), rtol=1e-4)  # six digits of frequency
    assert not curve.phase


def test_a_beam_from_behind_turns_the_sign(tmp_path):
    (curve,) = universal(tmp_path, NODES, measured_set(ordinate_spec_data_type=11, rsp_dir=-3))
    np.testing.assert_allclose(curve.values, -VALUES, rtol=1e-11)


@pytest.mark.parametrize(("response", "reference", "sign"), [(3, 3, 1), (-3, 3, -1), (3, -3, -1), (-3, -3, 1)])
def test_both_directions_of_a_curve_count(tmp_path, response, reference, sign):
    """Record 6 of data set 58 has a direction of the response and one of the reference, minus along the axis turned
    round (from memory): an axial force from the front that moves the part away from it is a mobility above 0."""
    keys = {"ordinate_spec_data_type": 11, "rsp_dir": response, "ref_dir": reference}
    (plain,) = universal(tmp_path, NODES, measured_set(ordinate_spec_data_type=11))
    (curve,) = universal(tmp_path, NODES, measured_set(**keys))
    np.testing.assert_allclose(curve.values, sign * plain.values)


def test_motion_over_motion_is_a_ratio(tmp_path):
    (curve,) = universal(tmp_path, NODES, measured_set(orddenom_spec_data_type=12))
    assert curve.quantity.name == "velocity"
    np.testing.assert_allclose(curve.values, VALUES, rtol=1e-11)


@pytest.mark.parametrize(("sets", "words"), [
    ([NODES], "holds no curve, which is a data set 58; its data sets are of type 15"),
    ([measured_set()], "data set 1: node 5 has no place; add a data set 15"),
    ([{**NODES_2411, "x": [1.0, float("inf")]}, measured_set()], "data set 2: node 5 has no place"),
    ([NODES, NODES_2411 | {"x": [1.0, 3.01]}, measured_set()], "node 5 has two places"),
    ([NODES, measured_set(abscissa_axis_units_lab="rpm")], "data set 2: the unit 'rpm' of its abscissa: "),
    ([IN_MM | {"length": 0.0}, NODES, measured_set()], "from 1e-12 to 1e[+]12; received 0 for length"),
    ([IN_MM | {"force": float("nan")}, NODES, measured_set()], "from 1e-12 to 1e[+]12; received nan for force"),
    ([NODES, measured_set(data=VALUES.real - 9.0)], "data set 2: values without a phase are sizes"),
    ([IN_MM, NODES, IN_MM | {"force": 1.0}, measured_set()], "its data sets 164 are of different units"),
    ([NODES, measured_set(abscissa_spec_data_type=17)], r"data set 2: must be a curve over frequency .*received 17"),
    ([NODES, measured_set(rsp_dir=1)], "the motion must be along the axis, direction 3 or -3; received direction 1"),
    ([NODES, measured_set(ordinate_spec_data_type=0)], "must say what it is of: the label of its ordinate one of area"),
    ([measured_set(ordinate_axis_lab="area", ordinate_axis_units_lab="mm")], "the unit 'mm' of 'area'"),
    ([measured_set(ordinate_axis_lab="area", ordinate_axis_units_lab="dB re 1 m2")], "is in a unit, not in dB"),
])  # fmt: skip
def test_universal_files_that_are_refused(tmp_path, sets, words):
    with pytest.raises(DesignError, match=words) as error:
        universal(tmp_path, *sets)
    assert "measured.uff" in str(error.value)


def test_binary_and_damaged_files_are_refused(tmp_path):
    path = write_curves(tmp_path / "curves.uff", every_quantity()[:1], "")
    text = path.read_text()
    path.write_text(text.replace("    58 ", "    58b", 1))
    with pytest.raises(DesignError, match=r"curves in binary form \(58b\); write the file in text"):
        read_measured_file(path)
    path.write_text(text.replace("    58 ", "    58B", 1))
    with pytest.raises(DesignError, match=r"curves in binary form \(58b\)"):
        read_measured_file(path)
    path.write_text(text.replace("E-0", "X-0", 1).replace("e-0", "x-0", 1))
    with pytest.raises(DesignError, match="data set 2: is no data set 58 of a universal file"):
        read_measured_file(path)
    path.write_text(text.replace("57         0", "58         0", 1))
    with pytest.raises(DesignError, match="says it has 58 points; received 57"):
        read_measured_file(path)
    path.write_text("    -1\n" + "\n" * 1_000_000 + "    -1")  # each line was searched to the end: no end was seen
    with pytest.raises(DesignError, match="holds no curve"):
        read_measured_file(path)
    path.write_text(text + text[:1500])
    with pytest.raises(DesignError, match="its last data set has no end, so the file was cut short"):
        read_measured_file(path)


@pytest.mark.parametrize(("found", "put"), [("57         0", "2000000000 1"), ("57         0", "-7         0")])
def test_a_universal_file_cannot_ask_for_room(tmp_path, found, put):
    """Points that a head promises and the lines do not have."""
    path = write_curves(tmp_path / "curves.uff", every_quantity()[:1], "")
    text = path.read_text()
    assert found in text
    path.write_text(text.replace(found, put, 1))
    with within_processor_time(20.0), pytest.raises(DesignError, match=r"universal file|says it has|points"):
        read_measured_file(path)


def test_a_file_of_ten_thousand_data_sets_is_refused(tmp_path):
    path = tmp_path / "many.uff"
    path.write_text("    -1\n    15\n    -1\n" * 10_000)
    with pytest.raises(DesignError, match=r"many\.uff: holds more than 2000 data sets, the most that are read"):
        read_measured_file(path)


def test_dust_at_the_axis_is_no_second_place(tmp_path):
    """A place that a scan turned or shifted is 1e-15 of its size beside itself."""
    axis, dust = ({**NODES, "x": [1.0, 0.0], "y": [0.0, 0.0], "z": [0.0, z]} for z in (0.0, 1e-15))
    universal(tmp_path, axis, dust, measured_set(ordinate_spec_data_type=11))
    (curve,) = read_measured_file(tmp_path / "measured.uff")
    assert (curve.r, curve.z) == (0.0, 0.0)


def test_a_node_without_end(tmp_path):
    universal(tmp_path, NODES, measured_set(ordinate_spec_data_type=11))
    path = tmp_path / "measured.uff"
    path.write_text(path.read_text().replace("         5", "       inf", 1))  # no whole number can be made of it
    with pytest.raises(DesignError, match="data set 2: node 5 has no place"):
        read_measured_file(path)


def test_shapes_as_another_program_reads_them(tmp_path):
    motion = np.array([[0.1, 0.0, 1.0], [0.2, -0.3, 0.5]])
    write_shapes(tmp_path / "shapes.uff", np.array([0.0, 0.02]), np.array([0.003, 0.0]),
                 [Shape(2, 1, 1234.5, 1e-3, 0.02, motion)], "a part")  # fmt: skip
    units, points, shape = pyuff.UFF(str(tmp_path / "shapes.uff")).read_sets()
    assert (units["length"], points["x"], points["z"]) == (1.0, [0.0, 0.02], [0.003, 0.0])
    assert (shape["freq"], shape["modal_m"], shape["mode_n"], shape["load_case"]) == (1234.5, 1e-3, 1, 2)
    np.testing.assert_allclose(np.column_stack([shape["r1"], shape["r2"], shape["r3"]]), motion)


def test_changed_files_are_read_or_refused(tmp_path):
    """Bytes changed at random: curves, or a refusal that names the file; no other error and no hang."""
    seeds = [write_curves(tmp_path / "seed.uff", every_quantity()[:2], "seed"), tmp_path / "seed.csv"]
    seeds[1].write_text(HEAD + "".join(f"{k + 1}, {k + 2}.5\n" for k in range(9)))
    outcomes = []
    for number in range(200):
        pick = random.Random(number)
        path = tmp_path / "mutant"
        path.write_bytes(changed_bytes(pick.choice(seeds).read_bytes(), pick))
        with within_processor_time(20.0):
            try:
                outcomes.append(bool(read_measured_file(path)))
            except DesignError as error:
                assert "mutant" in str(error)
                outcomes.append(False)
    assert 20 < sum(outcomes) < 180
