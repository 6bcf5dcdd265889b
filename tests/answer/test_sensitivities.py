"""What to change: each figure's change per tenth more of a number, against what is known of it beforehand."""

import sys
from dataclasses import replace

import numpy as np
import pytest
from places import STUDIES

from diaphragm_fem.analysis.figures.definitions import apart
from diaphragm_fem.answer.change import sensitivities as table_of_changes
from diaphragm_fem.answer.change.levers import BY_ZONES, Lever, levers, with_lever
from diaphragm_fem.answer.change.named_levers import as_helps, gain, named, to_turn
from diaphragm_fem.answer.change.sensitivities import (
    FAR,
    Tried,
    _with_all_on,
    of_steps,
    sensitivities,
    trials_of_levers,
)
from diaphragm_fem.answer.change.sensitivity import Sensitivities, Sensitivity
from diaphragm_fem.answer.driver.curve import driver_scan
from diaphragm_fem.answer.driver.driver import quick_figures
from diaphragm_fem.answer.driver.figures import level_over, levels_over
from diaphragm_fem.answer.driver.loaded import load_design_on
from diaphragm_fem.answer.evaluate import evaluate
from diaphragm_fem.answer.machine import cores
from diaphragm_fem.answer.quick import quick
from diaphragm_fem.answer.trust.doubts import _doubtful, doubtful_figures
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.material.material import Evidence, Kind, LossFactor, Material, Relaxation
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.wall import plain_wall
from diaphragm_fem.design.meridian.zone import Zone
from diaphragm_fem.design.read.read import load_design, read_design_file
from diaphragm_fem.errors import DesignError
from diaphragm_fem.load.air import SOUND_SPEED


@pytest.fixture(scope="module")
def dome():
    return read_design_file(STUDIES / "metal_dome.toml")


@pytest.fixture(scope="module")
def found(dome):
    return sensitivities(dome)


def test_every_length_and_modulus_is_a_lever(dome):
    keys = [lever.key for lever in levers(dome)]
    assert {"wall.thickness", "profile.rim_diameter", "profile.surround.width", "coil.former.thickness"} <= set(keys)
    assert keys[-3:] == ["modulus of aluminium alloy", "modulus of treated silk", "loss of treated silk"]
    assert not any("kind" in key or "conductor" in key for key in keys)


def test_what_else_of_a_driver_is_chosen_is_a_lever_in_the_order_of_its_file():
    """Its winding's mass, force factor, resistance, inductance and volume; no voltage, climate or density."""
    file = read_design_file(STUDIES / "driver_stepped_v.toml")
    usual = ("length", "modulus", "loss")
    others = [(lever.key, lever.value, lever.kind) for lever in levers(file) if lever.kind not in usual]
    assert others == [
        ("coil.winding_mass", pytest.approx(1.8e-3), "mass"),
        ("motor.force_factor", 9.0, "force factor"),
        ("motor.coil_resistance", 6.0, "resistance"),
        ("motor.inductance.inductance", pytest.approx(20e-6), "inductance"),
        ("motor.inductance.coefficient", 0.012, "number"),
        ("motor.inductance.resistance", 15.0, "resistance"),
        ("rear_chamber.volume", pytest.approx(330e-6), "volume"),
    ]
    given = {
        "motor.voltage": "2 V", "motor.source_resistance": "0.1 ohm", "air": {"temperature": "25 degC"},
        "rear_chamber.filling": 0.4, "rear_chamber.loss_factor": 0.0, "coil": {"kind": "ring", "mass": "2 g"},
        "rear_chamber.leak": {"diameter": "1 mm", "length": "2 mm"},
        "front.slots[0].channel.areas": ["120 mm2", "140 mm2"], "materials.\"firm elastomer\".density": "900 kg/m^3",
    }  # fmt: skip
    more = {lever.key: lever.kind for lever in levers(read_design_file(STUDIES / "driver_stepped_v.toml", given))}
    assert more["coil.mass"] == "mass" and more["motor.source_resistance"] == "resistance"
    assert more["rear_chamber.filling"] == "number" and more["rear_chamber.leak.diameter"] == "length"
    assert more["front.slots[0].channel.areas"] == "area" and "motor.voltage" not in more
    assert "rear_chamber.loss_factor" not in more  # a tenth of none is none
    assert not any("density" in key or key.startswith("air") for key in more)


def test_of_a_horn_its_length_is_a_lever_and_neither_its_area_nor_the_exit_alone():
    """A tenth more of either was refused in every table, for the horn begins with the exit's own area; all of its
    distances together were passed over, for the first of them is none."""
    file = read_design_file(STUDIES / "driver_stepped_v.toml")
    horn = {"exit.horn": {"distance": ["0 mm", "100 mm"], "area": ["7.0686 cm2", "30 cm2"]}}
    ended = read_design_file(STUDIES / "driver_stepped_v.toml", horn)
    assert {lever.key for lever in levers(file)} - {lever.key for lever in levers(ended)} == {"exit.diameter"}
    (length,) = (lever for lever in levers(ended) if lever.key.startswith("exit"))
    assert (length.key, length.value) == ("exit.horn.distance", 0.1)
    assert with_lever(ended, length, 1.1).driver.exit.distance == pytest.approx((0.0, 0.11))


def test_a_tenth_more_of_what_drives_and_of_what_lies_behind(monkeypatch):
    """Closed forms. The force per volt is Bl/(Z_c + Bl^2/Z_m), as `load/motor.py` says, and moves the level by as much;
    the area at rest falls to V/(V + V_held) (Small 1972, from memory), and feels neither motor nor inductance."""
    file = read_design_file(STUDIES / "driver_stepped_v.toml", {"rear_chamber.filling": 1.0})
    near(monkeypatch, file, "motor", "rear_chamber", "coil.winding_mass")
    found = sensitivities(file, up_to_hz=5e3)
    rows = {row.lever.key: row for row in found.rows}
    driver = load_design_on(file.design, up_to_hz=5e3)
    figures, curve, air = quick_figures(driver), driver_scan(driver), driver.around.still
    volume, held = 330e-6, figures.held_volume_m3 / air.gamma  # wholly filled: air of one temperature is softer
    larger = 1.1 * (volume + held) / (1.1 * volume + held)
    rest = 1 + rows["rear_chamber.volume"].change["loaded_low_area_m2"] / found.base["loaded_low_area_m2"]
    assert rest == pytest.approx(larger, rel=1e-3)  # 6e-4: moduli are those of the loaded fundamental, which sinks
    assert rows["rear_chamber.filling"].taken_at == -0.1  # more than all of it cannot be filled

    s = 2j * np.pi * curve.frequency_hz
    beside = 20e-6 * s + 1 / (1 / (0.012 * s**0.5) + 1 / 15)
    motional = s / curve.area.coil_force

    def force(bl, resistance):
        return bl / (resistance + beside + bl**2 * motional)

    for key, now in (("motor.force_factor", force(9.9, 6)), ("motor.coil_resistance", force(9, 6.6))):
        level = curve.level_db + 20 * np.log10(np.abs(now / force(9, 6)))
        median, spread = level_over(curve.frequency_hz, level, figures.band_hz)
        change = rows[key].change
        assert change["median_level_db"] == pytest.approx(median - found.base["median_level_db"], abs=1e-10), key
        assert change["level_spread_db"] == pytest.approx(spread - found.base["level_spread_db"], abs=1e-10), key
        assert abs(change["median_level_db"]) > 0.1
    for key in ("motor.force_factor", "motor.coil_resistance", "motor.inductance.coefficient"):
        assert rows[key].change["loaded_low_area_m2"] == rows[key].change["loaded_fundamental_hz"] == 0.0
    lighter = rows["coil.winding_mass"]
    assert lighter.change["loaded_fundamental_hz"] < 0 and lighter.change["median_level_db"]
    # of one wire R = rho L/A, m = d L A and Bl: none is lighter with both others kept
    assert lighter not in found.strongest("median_level_db")


def test_the_mass_of_a_winding_is_felt_in_vacuum(dome, monkeypatch):
    """It is added to what moves: 0.022 g more (mode shapes turn a little, and with them the mass: a few percent)."""
    near(monkeypatch, dome, "coil.winding_mass")
    (row,) = sensitivities(dome).rows
    assert row.change["moving_mass_kg"] == pytest.approx(0.1 * 0.22e-3, rel=0.05)


def test_a_worst_null_is_another_where_each_has_a_nearer_one(dome, monkeypatch):
    """It need not move farther than a lever moves a frequency: of two that cross in depth the other one is meant."""
    near(monkeypatch, dome, "wall")
    trials = trials_of_levers(dome, up_to_hz=20e3, corrected=True)

    def jumped(now, nulls):
        base = Tried({"worst_null_hz": 14e3, "worst_null_db": 40.0}, 0.0, nulls=(9e3, 14e3, 15.5e3))
        moved = Tried({"worst_null_hz": now, "worst_null_db": 45.0}, 0.1, nulls=nulls)
        (row,) = trials.table([base, moved]).rows
        return row.jumped == {"worst_null_db"}

    assert jumped(15.6e3, (9e3, 13.9e3, 15.6e3))  # a power of 1.1 alone
    assert jumped(15.3e3, (9e3, 15.3e3))  # its own place has gone; what is left stood beside it before
    assert not jumped(14.6e3, (9e3, 14.6e3, 16.5e3)) and not jumped(14e3, (14e3,)) and not jumped(None, ())


def test_a_tenth_more_loss_lowers_the_peak_by_a_tenth(dome, monkeypatch):
    """At the fundamental, whose silk alone bends, the peak of |S| stands at one over the loss: 20 log10(1.1) = 0.83 dB.

    Only what damps is asked: of the metals nobody chooses the loss.
    """
    (lever,) = near(monkeypatch, dome, "loss")
    assert lever.key == "loss of treated silk" and lever.kind == "loss" and lever.table == ""
    silk = next(one for one in dome.design.materials if one.name == "treated silk")
    assert lever.value == silk.loss_factor.values[0]
    found = with_lever(dome, lever, 1.1)
    (more,) = [one for one in found.materials if one.name == "treated silk"]
    frequency = [50.0, 800.0, 9e3]
    assert more.loss(frequency) == pytest.approx(1.1 * silk.loss(frequency), rel=1e-12)
    tops = []
    for design in (dome.design, found):
        curve = quick(design, up_to_hz=5e3).solution.scan
        tops.append(np.abs(curve.response).max())
    assert 20 * np.log10(tops[0] / tops[1]) == pytest.approx(20 * np.log10(1.1), rel=0.05)
    table = sensitivities(dome, up_to_hz=5e3)
    (row,), hz = table.rows, table.base["fundamental_hz"]
    stiffer = np.sqrt(more.storage_ratio(hz) / silk.storage_ratio(hz)) - 1  # where it damps more it stiffens more (1 %)
    assert row.taken_at == 0.1 and row.change["fundamental_hz"] == pytest.approx(stiffer * hz, rel=0.05)


def ring(tread):
    """A V of 97 mm on two soft steps, by changes of the stepped V."""
    sides = {
        "inner": ("9.5 mm", "9 mm", "5 mm", "4 mm", "1.4 mm"),
        "outer": ("10.5 mm", "9.5 mm", "5.5 mm", "4.5 mm", "1.6 mm"),
    }
    changes = {"wall.material": "PEEK film", "profile.coil_diameter": "66 mm", "coil.winding_mass": "3.2 g",
               "coil.former.material": "polyimide film", "coil.former.thickness": "125 um",
               "coil.former_height": "9 mm", "coil.winding_height": "6 mm"}  # fmt: skip
    for side, (width, rise, distance, roll, height) in sides.items():
        at, film = f"profile.{side}", "thermoplastic elastomer"
        step = {"distance": distance, "tread": tread, "rise": "0.3 mm", "material": film, "thickness": "90 um"}
        changes |= {f"{at}.width": width, f"{at}.rise": rise, f"{at}.steps": [step]}
        changes |= {f"{at}.surround.{key}": value for key, value in (
            ("width", roll), ("height", height), ("material", film), ("thickness", "110 um"),
            ("overlap", {"length": "1.2 mm", "side": "rear"}))}  # fmt: skip
    return read_design_file(STUDIES / "stepped_v.toml", changes)


def test_a_break_up_mode_that_is_another_one_is_told_by_its_shape(monkeypatch):
    """More of a former raises it by 15 %, of a modulus by 4 %: by the first another mode's share passes a half, while
    the one that led goes on by 0.3 %. As far as a lever moves a mode of its own, so that distance alone tells nothing.
    """
    file = ring("1.5 mm")
    keys = ("coil.former.thickness", "coil.former_height", "modulus of PEEK film")
    near(monkeypatch, file, *keys)
    found = sensitivities(file, up_to_hz=8e3)
    rows = {row.lever.key: row for row in found.rows}
    assert rows[keys[0]].change["break_up_mode_hz"] > 0.1 * found.base["break_up_mode_hz"]
    assert {key: row.jumped for key, row in rows.items()} == {
        keys[0]: {"break_up_mode_hz"}, keys[1]: frozenset(), keys[2]: frozenset()
    }  # fmt: skip


def test_a_tenth_more_of_a_key_is_that_design(dome, found):
    """The row is the difference to the design with the key written by hand."""
    row = next(row for row in found.rows if row.lever.key == "profile.height")
    higher = quick(load_design(STUDIES / "metal_dome.toml", {"profile.height": "6.6 mm"})).figures.table()
    assert row.taken_at == 0.1
    for name in ("break_up_mode_hz", "departure_hz", "low_area_m2"):
        assert row.change[name] == pytest.approx(higher[name] - found.base[name], rel=1e-9), name


def test_ten_percent_of_every_modulus_is_five_of_a_frequency(found):
    """All moduli together by 1.1 move every frequency by sqrt(1.1); the moduli are those of the former and the dome,
    the silk and the coil's wire, which keeps its own: the fundamental follows its two parts."""
    change = (
        sum(row.change["fundamental_hz"] for row in found.rows if row.lever.key.startswith("modulus of"))
        / found.base["fundamental_hz"]
    )
    # the two changes apart, not together; and the silk's own modulus rises with the frequency: 4 % of the change
    assert change == pytest.approx(1.1**0.5 - 1, rel=0.05)


def test_the_strongest_lever(found):
    strongest = [abs(row.change["break_up_mode_hz"]) for row in found.strongest("break_up_mode_hz")]
    kept = ("rim_diameter", "winding_mass")
    sizes = [abs(row.change["break_up_mode_hz"]) for row in found.rows if not row.lever.key.endswith(kept)]
    assert strongest == sorted(filter(None, sizes), reverse=True) and strongest
    assert found.strongest("decoupling_hz") == []  # a dome has no step


def test_a_diameter_is_no_lever_of_the_verdict_and_stays_in_the_table(found):
    base = {"break_up_mode_hz": 20e3}
    rows = tuple(
        Sensitivity(Lever(key, 1.0, "length"), {"break_up_mode_hz": change}, 0.1)
        for key, change in (("profile.coil_diameter", -900.0), ("rim_diameter", 800.0), ("wall.thickness", 300.0))
    )
    (strongest,) = Sensitivities(base, rows).strongest("break_up_mode_hz")
    assert strongest.lever.key == "wall.thickness"
    assert "profile.rim_diameter" in [row.lever.key for row in found.rows]


def test_no_advice_asks_for_a_modulus_that_nobody_sells(dome, found):
    """Metals and films are what they are; rubbers and coatings come in grades, as far as these are met."""
    known = {lever.key: lever for lever in levers(dome)}
    metal, silk, loss = (
        known["modulus of aluminium alloy"],
        known["modulus of treated silk"],
        known["loss of treated silk"],
    )
    assert not metal.can_be(0.1) and not metal.can_be(-0.1)
    assert silk.can_be(0.1) and silk.can_be(1.5) and not silk.can_be(1.51)  # up to 1 GPa
    assert loss.can_be(1.0) and not loss.can_be(1.01) and known["wall.thickness"].can_be(2.0)
    assert metal.key in [row.lever.key for row in found.strongest("break_up_mode_hz")]  # the table still tells
    assert metal.key not in [row.lever.key for row in named(found, "break_up_mode_hz")]
    base, graded = {"break_up_mode_hz": 20e3}, Lever("wall.width", 1e-3, "length", (0.0, 1e-3))
    for change, kept in ((-800.0, True), (800.0, False)):  # the way that helps is what must be had
        one = Sensitivities(base, (Sensitivity(graded, {"break_up_mode_hz": change}, 0.1),))
        assert bool(named(one, "break_up_mode_hz")) is kept


@pytest.mark.parametrize(
    ("key", "factor", "why"),
    [
        ("wall.thickness", 0.1, "a wall of 5 um; 6 um are about the thinnest"),
        ("coil.former.thickness", 0.25, "former: a wall of 18.8 um; 20 um are about the thinnest"),
        ("profile.outer.steps[0].tread", 0.1, "outer step: 0.121 mm long, less than 3 of its thicknesses"),
    ],
)
def test_no_lever_leads_to_what_cannot_be_built(key, factor, why):
    """A design that is like that already may be moved on."""
    file = read_design_file(STUDIES / "stepped_v.toml")
    lever = next(lever for lever in levers(file) if lever.key == key)
    with pytest.raises(DesignError, match=why):
        with_lever(file, lever, factor)
    thin = read_design_file(STUDIES / "stepped_v.toml", {"wall.thickness": "5 um"})
    lever = next(lever for lever in levers(thin) if lever.key == "wall.thickness")
    assert with_lever(thin, lever, 0.9).meridian


def test_no_lever_leads_to_slots_nearer_than_can_be_made():
    """Half a millimetre of plug between two slots: common practice, no source."""
    radius = "front.slots[1].radius"  # of slots of 0.9 mm, the inner at 6.8 mm
    for outer, factor, width in (("8.3 mm", 0.98, "0.43 mm"), ("8.0 mm", 0.98, None), ("8.3 mm", 0.99, None)):
        file = read_design_file(STUDIES / "two_sections.toml", {radius: outer})
        lever = next(lever for lever in levers(file) if lever.key == radius)
        if width is None:  # that near already, or far enough
            assert with_lever(file, lever, factor).driver
        else:
            with pytest.raises(DesignError, match=rf"front.slots\[1\]: {width} of plug before it"):
                with_lever(file, lever, factor)


def test_a_step_after_which_the_diaphragm_touches_its_plug_is_no_advice(monkeypatch):
    """Of a gap that the excursion fills to 95 % a tenth less is no clearance; told by hand, as peak over gap."""
    path, gap = STUDIES / "driver_straight_v.toml", "front.gap"
    narrow = {f"front.slots[{k}].width": "0.9 mm" for k in range(2)}  # at most twice the gap
    driver = load_design_on(load_design(path, narrow), up_to_hz=5e3)
    reach = quick_figures(driver).excursion_m / driver.design.driver.front.gap_width[0]
    file = read_design_file(path, {**narrow, "motor.voltage": f"{2.83 * 0.95 / reach:.6g} V"})
    monkeypatch.setattr(table_of_changes, "levers", lambda file: [one for one in levers(file) if one.key == gap])
    trials = trials_of_levers(file, up_to_hz=5e3, corrected=True)
    (lever,) = trials.levers
    as_it_is, more, less = trials.tried(None, 0.0), trials.tried(lever, 0.1), trials.tried(lever, -0.1)
    assert as_it_is.reach == pytest.approx(0.95, rel=1e-3) and more.reach < 0.9 < 1.0 < less.reach
    (row,) = trials.table([as_it_is, less]).rows
    assert row.touches and not row.can_be_had
    better = replace(row, change={"median_level_db": -1.0})
    found = Sensitivities({"median_level_db": 100.0}, (better,), loaded=True)
    assert (
        named(found, "median_level_db")
        == []
        != named(replace(found, rows=(replace(better, touches=False),)), "median_level_db")
    )
    (row,) = trials.table([as_it_is, more]).rows
    assert not row.touches
    (row,) = trials.table([as_it_is._replace(reach=less.reach), less]).rows  # as it is it touches as far
    assert not row.touches


@pytest.mark.parametrize(
    ("half", "more", "held"),
    [(4.1, 7.0, True), (3.9, 7.0, False), (4.1, 5.5, False), (4.0, 6.05, True), (4.1, None, False)],
)
def test_a_jump_that_the_neighbours_of_its_step_have_too_is_known_to_hold(monkeypatch, half, more, held):
    """Half the step does no harm, half as much more keeps two thirds of it; what cannot be built keeps nothing."""
    file = read_design_file(STUDIES / "metal_dome.toml")
    (lever,) = near(monkeypatch, file, "wall")[:1]
    monkeypatch.setattr(table_of_changes, "levers", lambda file: [lever])
    trials = trials_of_levers(file, up_to_hz=20e3, corrected=True)
    asked = {}

    def tried(self, moved, step):
        end = {0.05: half, 0.15: more, -0.1: 3.0}[round(step, 9)]
        asked[round(step, 9)] = moved
        known = None if end is None else {"even_band_to_hz": 1e3 * end}
        return Tried(known, None if end is None else step, None if end else DesignError("too thick"))

    monkeypatch.setattr(table_of_changes.Trials, "tried", tried)
    monkeypatch.setattr(table_of_changes, "on_all_cores", lambda work, many: [work(one) for one in many])
    base, jump = Tried({"even_band_to_hz": 4e3}, 0.0), Tried({"even_band_to_hz": 7e3}, 0.1)
    (row,) = trials.table([base, jump]).rows
    assert row.held == ({"even_band_to_hz"} if held else set()) and {0.05, 0.15} <= set(asked)
    found = Sensitivities(base.figures, (row,))
    assert named(found, "even_band_to_hz") == [row] * held


def test_what_the_design_refuses_is_taken_the_other_way(tmp_path, monkeypatch):
    """A step that fills its flank to the last tenth cannot grow; it is made smaller and the change turned about."""
    text = (STUDIES / "stepped_v.toml").read_text(encoding="utf-8")
    text = text.replace('distance = "1.9 mm"', 'distance = "3.3 mm"')
    path = tmp_path / "tight.toml"
    path.write_text(text, encoding="utf-8")
    file, key = read_design_file(path), "profile.outer.steps[0].distance"
    monkeypatch.setattr(table_of_changes, "levers", lambda file: [one for one in levers(file) if one.key == key])
    (row,) = sensitivities(file, up_to_hz=3e3).rows
    assert row.taken_at == -0.1 and row.change["decoupling_hz"] != 0


def near(monkeypatch, file, *tables):
    """What to change is asked of some tables of the file alone."""
    chosen = [lever for lever in levers(file) if lever.key.startswith(tables)]
    monkeypatch.setattr(table_of_changes, "levers", lambda file: chosen)
    return chosen


def test_keys_that_only_loaded_figures_feel_stay_out_of_a_table_in_vacuum(monkeypatch):
    """The air of a face of many wavelengths is not solved for every shape: the table has no row of it, the explorer's
    knobs do."""
    monkeypatch.setattr(table_of_changes, "WIDEST_RING", 1.0)
    file = read_design_file(STUDIES / "baffled_straight_v.toml")
    asked = near(monkeypatch, file, "front", "wall", "motor")
    found, knobs = sensitivities(file, up_to_hz=3e3), {lever.key for lever in asked}
    assert not found.loaded and "median_level_db" not in found.base
    keys = {row.lever.key for row in found.rows}
    of_the_motor = {"motor.force_factor", "motor.coil_resistance", "motor.inductance.inductance"}
    assert knobs - keys == {"front.flange_depth", "front.mounting_ring", *of_the_motor}


@pytest.mark.parametrize(("name", "around"), [("baffled_metal_dome", 22.0), ("baffled_straight_v", 16.0)])
def test_a_face_with_an_inner_edge_is_solved_for_every_shape_to_fewer_wavelengths(name, around):
    """Its pressure takes 44 patterns for 28, so that a shape of either takes as long."""
    design = load_design(STUDIES / f"{name}.toml")
    top = around * SOUND_SPEED / (2 * np.pi * design.meridian[-1].curve.ends[1].point[0])
    assert _with_all_on(design, 0.99 * top) and not _with_all_on(design, 1.01 * top)


def test_a_face_in_a_baffle_tells_the_change_of_what_is_heard(monkeypatch):
    """Each row is the difference to the face with that key written by hand; in vacuum alone advice cost what is
    heard."""
    path = STUDIES / "baffled_metal_dome.toml"
    file = read_design_file(path)
    near(monkeypatch, file, "front.mounting_ring", "wall.thickness", "motor.force_factor")
    found = sensitivities(file, up_to_hz=5e3)
    rows = {row.lever.key: row for row in found.rows}
    assert found.loaded and {"wall.thickness", "motor.force_factor"} <= set(rows)
    as_it_is = quick_figures(load_design_on(file.design, up_to_hz=5e3))
    for key, value in (("wall.thickness", "33 um"), ("motor.force_factor", "3.3 N/A")):
        driver = load_design_on(load_design(path, {key: value}), up_to_hz=5e3)
        curve = driver_scan(driver)
        level, _ = level_over(curve.frequency_hz, curve.level_db, as_it_is.band_hz)
        assert rows[key].change["median_level_db"] == pytest.approx(level - as_it_is.median_level_db, abs=2e-3)


def test_where_one_listens_is_no_lever(monkeypatch):
    """A tenth nearer is 0.9 dB louder, and no better a driver."""
    file = read_design_file(STUDIES / "baffled_metal_dome.toml", {"front.level_distance": "50 cm"})
    knobs = {lever.key for lever in near(monkeypatch, file, "front")}
    assert "front.level_distance" in knobs  # the explorer's
    solved = trials_of_levers(file, up_to_hz=1e3, corrected=True).work
    assert len(solved) == 1 + len(knobs - {"front.level_distance"})


def test_a_driver_tells_the_change_of_its_loaded_figures(monkeypatch):
    """Each row is the difference to the driver with that key written by hand, of what both sections send, too;
    without a stroke's keys, which no figure of the table feels."""
    path = STUDIES / "two_sections.toml"
    file = read_design_file(path)
    asked = near(monkeypatch, file, "front", "wall", "second_section", "stroke")
    found = sensitivities(file, up_to_hz=5e3)
    rows = {row.lever.key: row for row in found.rows}
    assert found.loaded and not any(key.startswith("stroke") for key in rows)
    assert list(rows) == [lever.key for lever in asked if lever.key in rows]  # in the order of the file
    band = quick_figures(load_design_on(file.design, up_to_hz=5e3)).band_hz
    for key in ("front.gap", "wall.thickness", "second_section.distance"):
        wider = load_design_on(load_design(path, {key: f"{1.1 * rows[key].lever.value} m"}), up_to_hz=5e3)
        by_hand, change = quick_figures(wider), rows[key].change
        for name in ("sum_median_level_db", "sum_level_spread_db"):
            assert change[name] == pytest.approx(by_hand.summed[name] - found.base[name], rel=1e-9) and change[name]
        if key.startswith("second_section"):
            assert change["median_level_db"] == 0 == change["plays_to_hz"]
            continue
        fundamental = by_hand.figures()["loaded_fundamental_hz"]
        assert change["loaded_fundamental_hz"] == pytest.approx(fundamental - found.base["loaded_fundamental_hz"])
        # over the band of the design as it is: one of its own would flatter a part that leaves its coil earlier
        curve = driver_scan(wider)
        median, spread = level_over(curve.frequency_hz, curve.level_db, band)
        assert change["median_level_db"] == pytest.approx(median - found.base["median_level_db"], rel=1e-9)
        assert change["level_spread_db"] == pytest.approx(spread - found.base["level_spread_db"], rel=1e-9)
        heard = levels_over(curve, band)["heard_octaves"] - found.base["heard_octaves"]
        assert change["heard_octaves"] == pytest.approx(heard, rel=1e-9) and heard != 0
        assert by_hand.band_hz != band
        own = rows[key].own_band["level_spread_db"]  # beside it over the band that the driver has then
        assert own == pytest.approx(by_hand.level_spread_db - found.base["level_spread_db"], rel=1e-9)
        assert own != pytest.approx(change["level_spread_db"], rel=1e-3)
    assert rows["front.gap"].change["median_level_db"] != 0


def test_the_levers_that_a_verdict_names_are_solved_the_way_that_helps(dome, found):
    """Each is the difference to the design with a tenth less written by hand, no straight line from a tenth more."""
    turned = [row for row in found.rows if row.back is not None]
    ends = ("even_band_to_hz", "break_up_mode_hz", "even_band_octaves")
    asked = {row.lever for name in ends for row in named(found, name) if gain(row, name) < 0}
    assert asked and asked <= {row.lever for row in turned}  # others brought less than what took their places
    assert len(turned) < len(found.rows) / 2
    assert all(as_helps(row, name) is row.back for name in ends for row in named(found, name) if gain(row, name) < 0)
    row = next(row for row in turned if row.lever.key.startswith(("wall", "profile", "coil")))
    value = f"{0.9 * row.lever.value:.12g} m"
    less = quick(load_design(STUDIES / "metal_dome.toml", {row.lever.key: value})).figures.table()
    assert row.back.taken_at == -0.1
    for name in ("break_up_mode_hz", "even_band_octaves"):
        assert gain(row.back, name) == pytest.approx(less[name] - found.base[name], rel=1e-9)
        assert row.back.change[name] != pytest.approx(row.change[name], rel=1e-3)


def test_where_a_hand_over_fails_a_softer_step_is_solved_too():
    lever, other = Lever("modulus of rubber", 1e7, "modulus"), Lever("wall.thickness", 5e-5, "length")
    rows = (Sensitivity(lever, {"break_up_mode_hz": 90.0}, 0.1), Sensitivity(other, {"break_up_mode_hz": 900.0}, 0.1))
    failing = Sensitivities({"handed_over_hz": None, "break_up_mode_hz": 9e3}, rows)
    assert to_turn(failing, {lever.key}) == [lever]
    assert to_turn(replace(failing, base={"handed_over_hz": 2e3}), {lever.key}) == []
    assert of_steps(read_design_file(STUDIES / "stepped_v.toml").design) == {"modulus of damping elastomer"}


def test_a_lever_that_helps_less_of_is_named_where_more_of_it_is_a_jump():
    """A hole just within its 3 dB: more of a tread ends the band an octave lower, less of it moves that end most."""
    tread, rise = Lever("profile.steps[0].tread", 1e-3, "length"), Lever("profile.steps[0].rise", 2e-4, "length")
    base = {"shelf_band_to_hz": 2500.0, "shelf_band_octaves": 4.0, "decoupling_hz:step": 1900.0}
    far = Sensitivity(tread, {"shelf_band_to_hz": -1500.0}, 0.1)
    found = Sensitivities(base, (far, Sensitivity(rise, {"shelf_band_to_hz": 120.0}, 0.1)))
    assert to_turn(found) == [tread]
    assert [row.lever for row in named(found, "shelf_band_to_hz")] == [rise]

    def turned(change):
        back = Sensitivity(tread, {"shelf_band_to_hz": change}, -0.1)  # turned about
        return named(replace(found, rows=(replace(far, back=back), found.rows[1])), "shelf_band_to_hz")

    assert [as_helps(row, "shelf_band_to_hz").taken_at for row in turned(-490.0)] == [-0.1, 0.1]
    assert [row.lever for row in turned(40.0)] == [rise]  # worse either way
    assert [row.lever for row in turned(-1500.0)] == [rise]  # a jump either way


def test_what_helps_neither_way_takes_no_place_of_the_three():
    """A figure near its best by some numbers: a tenth either way of them is worse, and what helps was not told."""
    keys = ("wall.thickness", "profile.height", "coil.former_height", "profile.surround.width")
    worse = [
        Sensitivity(Lever(key, 1e-3, "length"), {"even_band_octaves": -change}, 0.1)
        for key, change in zip(keys, (0.4, 0.35, 0.3, 0.2), strict=True)
    ]
    base = {"even_band_octaves": 4.0, "even_band_to_hz": 8e3}

    def solved(row, change):  # turned about, as it is taken at a tenth less
        return replace(row, back=Sensitivity(row.lever, {"even_band_octaves": -change}, -0.1))

    first = Sensitivities(base, tuple(worse))
    assert to_turn(first) == [row.lever for row in worse[:3]]
    idle = tuple(solved(row, -0.1) for row in worse[:3])
    second = Sensitivities(base, (*idle, worse[3]))
    assert to_turn(second) == [worse[3].lever]
    helps = solved(worse[3], 0.2)
    assert named(Sensitivities(base, (*idle, helps)), "even_band_octaves") == [helps]
    assert named(Sensitivities(base, idle), "even_band_octaves") == list(idle)  # what was tried is told
    assert to_turn(Sensitivities(base, idle)) == []
    little = solved(worse[0], 0.03)  # harms by 0.4 and helps by less than what harms by 0.2
    assert named(Sensitivities(base, (little, helps)), "even_band_octaves") == [helps, little]


def test_throws_of_a_band_do_not_hide_what_makes_it_longer():
    """A band of six octaves that most levers throw down by two, and a surround that lets it begin lower."""
    step, edge = Lever("profile.steps[0].tread", 1e-3, "length"), Lever("profile.surround.thickness", 1e-4, "length")
    base = {"shelf_band_octaves": 6.1, "shelf_band_to_hz": 11e3, "decoupling_hz:step": 1900.0}
    thrown = Sensitivity(step, {"shelf_band_octaves": -2.0, "shelf_band_to_hz": -8e3}, 0.1)
    lower = Sensitivity(edge, {"shelf_band_octaves": -0.08, "shelf_band_to_hz": 10.0}, 0.1)
    found = Sensitivities(base, (thrown, lower))
    assert to_turn(found) == [step, edge] and named(found, "shelf_band_octaves") == [lower]
    grows = replace(thrown, change={"shelf_band_octaves": 2.0, "shelf_band_to_hz": 8e3})
    assert named(replace(found, rows=(grows, lower)), "shelf_band_octaves") == [grows]


def test_a_hand_over_that_no_tenth_brings_is_sought_farther(monkeypatch):
    """The least of the steps that does, against designs with the key written by hand; not where a tenth does."""
    tread = "profile.outer.steps[0].tread"

    def firm(thickness, **changes):
        one = {"profile.inner.steps": [], "profile.outer.steps[0].material": "firm elastomer"}
        return read_design_file(
            STUDIES / "stepped_v.toml", {**one, "profile.outer.steps[0].thickness": thickness, **changes}
        )

    def hands_over(factor):
        wider = firm("120 um", **{tread: f"{1.3 * factor} mm"})
        return quick(wider.design).figures.handed_over_hz is not None

    near(monkeypatch, firm("120 um"), tread)
    (far,) = sensitivities(firm("120 um")).hands_over
    steps = [step for size in FAR for step in size]
    assert far.taken_at == next(step for step in steps if hands_over(1 + step)) and "handed_over_hz" in far.gained
    assert not hands_over(1.1) and not hands_over(0.9)
    assert sensitivities(firm("100 um")).hands_over == ()  # a tenth does


def test_of_a_driver_a_hand_over_is_sought_in_its_chamber_too(monkeypatch):
    """Behind a plug the chamber's pressure moves what lies beyond the steps: a longer channel lets it stand still."""
    file = read_design_file(STUDIES / "driver_stepped_v.toml")
    near(monkeypatch, file, "front.slots[1].channel.length")
    (longer,) = sensitivities(file, up_to_hz=8e3).hands_over
    assert longer.taken_at == 0.5 and "loaded_handed_over_hz" in longer.gained
    changed = read_design_file(STUDIES / "driver_stepped_v.toml", {"front.slots[1].channel.length": "16.5 mm"})
    assert quick_figures(load_design_on(changed.design, up_to_hz=8e3)).loaded.handed_over_hz is not None


def test_what_exists_with_a_lever_moved_alone_is_gained_and_without_that_alone_lost(dome, monkeypatch):
    (lever,) = near(monkeypatch, dome, "wall")
    trials = trials_of_levers(dome, up_to_hz=20e3, corrected=True)
    base = {"handed_over_hz": 2e3, "departure_hz": None, "decoupling_hz": None, "fundamental_hz": 80.0}
    moved = {"handed_over_hz": None, "departure_hz": 9e3, "decoupling_hz": None, "fundamental_hz": 88.0}
    (row,) = trials.table([Tried(base, 0.0), Tried(moved, 0.1)]).rows
    assert row.gained == {"departure_hz"} and row.lost == {"handed_over_hz"} and row.lever == lever
    assert row.change == dict.fromkeys(base) | {"fundamental_hz": 8.0}


def test_what_a_file_of_points_gives_a_zone_is_a_lever(tmp_path):
    """As a factor, a key that may be added: none held it, and such a part was left no study."""
    rows = ["0, 4, 200, cap", "12.5, 0, 200, cone", "28, 9, 300, surround", "32, 9, 300, surround"]
    (tmp_path / "cone.csv").write_text("\n".join(["r [mm], z [mm], thickness [um], zone", *rows]))
    path = tmp_path / "cone.toml"
    path.write_text(
        'name = "cone"\nwall = { material = "paper" }\ncoil = { kind = "ring", diameter = "25 mm", mass = "0.8 g" }\n'
        '[profile]\nkind = "free"\nfile = "cone.csv"\n'
    )
    file = read_design_file(path)

    def factors(path):
        return [lever for lever in levers(read_design_file(path)) if lever.kind == BY_ZONES]

    known = factors(path)
    keys = [f"profile.thickness_factor.{zone}" for zone in ("cap", "cone", "surround")]
    assert [(lever.key, lever.value) for lever in known] == [(key, 1.0) for key in keys]
    assert all(with_lever(file, lever, 1.0) == file.design for lever in known)
    assert read_design_file(path, {keys[1]: 1.1}).design == with_lever(file, known[1], 1.1)
    ends = [[round(1e6 * float(piece.wall.thickness(share))) for share in (0, 1)] for piece in
            with_lever(file, known[1], 1.1).meridian]  # fmt: skip
    assert ends == [[200, 220], [220, 300], [300, 300]]  # it runs evenly on from its neighbours' of the same material
    own = path.read_text() + '[zones.cone]\nthickness = "0.25 mm"\n'  # beside which the points' moved the cap's end
    path.with_name("own.toml").write_text(own)
    assert [lever.key for lever in factors(path.with_name("own.toml"))] == [keys[0], keys[2]]
    for zone in ("cone", "rim"):
        with pytest.raises(DesignError, match=f"the points give '{zone}' no thickness; they give it to: cap, surround"):
            read_design_file(path.with_name("own.toml"), {f"profile.thickness_factor.{zone}": 1.1})
    (tmp_path / "cone.csv").write_text("r [mm], z [mm]\n0, 4\n12.5, 0\n32, 9\n")
    path.write_text(path.read_text().replace('"paper" }', '"paper", thickness = "0.2 mm" }'))
    assert factors(path) == []


def test_of_two_drawn_faces_each_zone_has_a_thickness_to_change():
    """Both faces moved apart about their middle: the meridian stays, the wall of that zone alone is another."""
    file = read_design_file(STUDIES / "drawn_v.toml")
    known = {lever.key: lever for lever in levers(file) if lever.kind == BY_ZONES}
    zones = dict.fromkeys(piece.zone.name for piece in file.design.meridian)
    assert list(known) == [f'profile.thickness_factor."{zone}"' for zone in zones]
    lever = known['profile.thickness_factor."outer driven zone"']
    assert with_lever(file, lever, 1.0) == file.design and lever.table == "profile"
    thicker, drawn = with_lever(file, lever, 1.1).meridian, file.design.meridian
    assert [piece.curve for piece in thicker] == [piece.curve for piece in drawn]
    times = [[one.wall.thickness(x) / other.wall.thickness(x) for x in (0.0, 1.0)]
             for one, other in zip(thicker, drawn, strict=True)]  # fmt: skip
    expected = [[1.1 if piece.zone.name == "outer driven zone" else 1.0] * 2 for piece in drawn]
    np.testing.assert_allclose(times, expected, rtol=1e-12)
    again = read_design_file(STUDIES / "drawn_v.toml", {lever.key: 1.1})
    assert again.design == with_lever(file, lever, 1.1)
    assert next(x for x in levers(again) if x.key == lever.key).value == 1.1


def test_a_lever_that_nothing_feels_has_no_row(dome, monkeypatch):
    """A thickness of [wall] that no zone takes is none that changes nothing; one that is refused both ways is told."""
    near(monkeypatch, dome, "wall")
    trials = trials_of_levers(dome, up_to_hz=20e3, corrected=True)
    base = {"fundamental_hz": 80.0, "departure_hz": None, "decoupling_hz": None}
    assert trials.table([Tried(base, 0.0), Tried(dict(base), 0.1)]).rows == ()
    assert len(trials.table([Tried(base, 0.0), Tried(base | {"fundamental_hz": 80.0 + 1e-9}, 0.1)]).rows) == 1
    assert len(trials.table([Tried(base, 0.0), Tried(None, None, DesignError("no room"))]).rows) == 1


def test_a_star_needs_a_number_that_moves_the_figure():
    """The elastomers' moduli are assumed, and the stepped V's decoupling hangs on them; its mass hardly does."""
    found = doubtful_figures(load_design(STUDIES / "stepped_v.toml"), up_to_hz=4e3)
    assert {"fundamental_hz", "stiffness_n_per_m", "decoupling_hz"} <= found
    assert "moving_mass_kg" not in found


def test_a_number_without_a_source_is_tried_at_the_farther_end_of_its_range():
    """A fifth either way where it has no range; no Poisson ratio above 0.49; of a relaxation the rise less one counts,
    for the loss goes with it."""
    low = Evidence(Kind.ASSUMED, "", (0.5e6, 1.2e6))
    known = {"density": Evidence(Kind.MEASURED, ""), "youngs_modulus": low}
    for loss, tried in (
        (LossFactor((0.1, 0.2), (1e2, 1e3)), LossFactor((0.12, 0.24), (1e2, 1e3))),
        (Relaxation(2.0, 1e3, 0.5), Relaxation(2.2, 1e3, 0.5)),
    ):
        rubber = Material("rubber", 1100.0, 1e6, 0.45, loss, known)
        disc = Design("disc", (Piece(Line((0.0, 0.0), (0.02, 0.0)), Zone("wall"), plain_wall(rubber, 2e-4)),), None)
        found = list(_doubtful(disc))
        modulus, ratio = (replace(rubber, **one) for one in ({"youngs_modulus": 0.5e6}, {"poisson_ratio": 0.49}))
        assert sorted(map(repr, found)) == sorted(map(repr, (modulus, ratio, replace(rubber, loss_factor=tried))))


def test_figures_are_told_apart():
    assert apart("decoupling_hz", 100.0, 102.1) and not apart("decoupling_hz", 100.0, 101.9)
    assert apart("deepest_hole_db", -1.0, -1.2) and not apart("deepest_hole_db", -10.0, -10.1)
    assert apart("even_band_octaves", 3.0, 3.04) and not apart("even_band_octaves", 3.0, 3.02)
    assert apart("handed_over_hz", None, 100.0) and not apart("handed_over_hz", None, None)


@pytest.mark.skipif(sys.platform != "linux", reason="work is shared by forking on Linux alone")
def test_an_evaluation_is_the_same_whoever_solves_its_parts(dome, found, monkeypatch, one_lever):
    """By the same code on the same numbers, in one process or in three: to the last digit."""
    answers = []
    for forks in (False, True):
        monkeypatch.setattr(cores, "may_fork", lambda forks=forks: forks)
        monkeypatch.setattr(cores, "cores", lambda: 2)
        answers.append(evaluate(dome.design, orders=[0], file=dome))
    here, shared = answers
    assert shared.second_opinion.rows == here.second_opinion.rows
    assert shared.second_opinion.figures.table() == here.second_opinion.figures.table()
    assert shared.sensitivities == here.sensitivities
    (row,) = (replace(row, back=None) for row in here.sensitivities.rows)  # of one lever another way may be asked
    assert row in [replace(row, back=None) for row in found.rows] and here.sensitivities.base == found.base
    assert (shared.area_error, shared.warnings) == (here.area_error, here.warnings)
