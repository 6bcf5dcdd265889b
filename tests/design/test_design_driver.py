"""The tables of air, motor, chambers, slots, exit and second section: what they become, what they refuse."""

from copy import deepcopy
from dataclasses import asdict
from math import inf, nan

import pytest

from diaphragm_fem.design.driver.driver import (
    Climate,
    Crossover,
    Driver,
    Exit,
    Front,
    Inductance,
    Motor,
    RearChamber,
    SecondSection,
    Slot,
)
from diaphragm_fem.design.files.named_files import moved_to
from diaphragm_fem.design.files.write import to_toml
from diaphragm_fem.design.read.read import changed, design_from
from diaphragm_fem.errors import DesignError

PART = {
    "wall": {"material": "PEN film", "thickness": "50 um"},
    "profile": {
        "kind": "v",
        "coil_diameter": "44 mm",
        "inner": {"width": "6 mm", "rise": "6 mm"},
        "outer": {"width": "6 mm", "rise": "6 mm"},
    },
}
DRIVER = {
    "air": {"temperature": "23 degC", "humidity": 0.4, "static_pressure": "1000 hPa"},
    "motor": {
        "force_factor": "9 T m",
        "coil_resistance": "6 ohm",
        "inductance": {
            "kind": "two-stage",
            "inductance": "50 uH",
            "second_inductance": "0.11 mH",
            "resistance": "3.5 ohm",
        },
    },
    "rear_chamber": {"volume": "25 cm3", "filling": 0.5, "leak": {"diameter": "1 mm", "length": "5 mm"}},
    "front": {
        "kind": "thin chamber",
        "gap": "0.6 mm",
        "slots": [
            {"radius": "18 mm", "side": "inner", "width": "0.8 mm", "channel": {"length": "18 mm"}},
            {"radius": "26 mm", "width": "0.8 mm", "channel": {"length": "18 mm", "areas": ["1.2 cm2", "3 cm2"]}},
        ],
    },
    "exit": {"diameter": "32 mm"},
    "second_section": {
        "file": "lower.toml",
        "distance": "20 mm",
        "slots": {"count": 4, "area": "35 mm2", "width": "0.8 mm", "length": "6 mm"},
        "volume": "4 ml",
        "crossover": {"frequency": "1.5 kHz", "polarity": "turned", "delay": "0.1 ms"},
    },
}


def made(**changes):
    data = deepcopy({**PART, **DRIVER})
    return design_from(changed(data, changes) if changes else data, folder="parts")


def test_without_its_tables_a_design_has_no_driver():
    assert design_from(PART).driver is None


def tidy(value):
    """Numbers to twelve digits, so that 50 um may be 5e-5 or 4.9999999999999996e-5."""
    if isinstance(value, dict):
        return {key: tidy(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return tuple(map(tidy, value))
    return float(f"{value:.12g}") if isinstance(value, float) else value


def test_every_table_becomes_numbers_in_si():
    wanted = Driver(
        climate=Climate(296.15, 0.4, 1e5),
        motor=Motor(9.0, 6.0, Inductance("two-stage", 50e-6, 0.11e-3, 3.5), 2.83, 0.0),
        rear_chamber=RearChamber(25e-6, 0.5, 0.0, 1e-3, 5e-3),
        front=Front(
            "thin chamber",
            (0.6e-3,),
            (0.0,),
            (),
            None,
            (Slot(18e-3, 0.8e-3, 18e-3, "inner"), Slot(26e-3, 0.8e-3, 18e-3, "", (1.2e-4, 3e-4))),
        ),
        exit=Exit(32e-3),
        second_section=SecondSection(
            20e-3, 4, 35e-6, 0.8e-3, 6e-3, 4e-6, Crossover(1500.0, 4, -1, 0.1e-3, 0.0), "parts/lower.toml"
        ),
    )
    assert tidy(asdict(made().driver)) == tidy(asdict(wanted))


def test_a_horn_a_table_a_changing_gap_and_a_plug_are_read():
    assert made(exit=horn("314 mm2", "30 cm2")).driver.exit == Exit(20e-3, "horn", (0.0, 0.08), (314e-6, 30e-4))
    flared = horn("314 mm2", "30 cm2")  # which ends the exit where it is given
    assert made(exit=without_end(flared)) == made(exit=flared)
    table = {"frequency": ["20 Hz", "20 kHz"], "resistance": [1e5, 2e5], "reactance": [0.0, -1e4]}
    found = made(exit={"diameter": "20 mm", "end": "table", "table": table}).driver.exit
    assert (found.frequency, found.impedance) == ((20.0, 20e3), (1e5 + 0j, 2e5 - 1e4j))
    changing = made(**{"front.gap": {"distance": ["0 mm", "10 mm"], "width": ["0.4 mm", "0.6 mm"]}}).driver.front
    assert (changing.gap_distance, changing.gap_width) == ((0.0, 10e-3), (0.4e-3, 0.6e-3))
    plug = {**DRIVER["front"], "plug": {"r": ["10 mm", "30 mm"], "z": ["9 mm", "9 mm"]}}
    del plug["gap"]
    assert made(front=plug).driver.front.plug[1] == pytest.approx((30e-3, 9e-3))


def test_paths_move_with_the_file_and_the_text_reads_back(tmp_path):
    moved = moved_to({**PART, **DRIVER}, tmp_path, tmp_path / "deeper")
    assert moved["second_section"]["file"] == "../lower.toml"
    assert "[front]" in to_toml({**PART, **DRIVER})


def horn(first, last):
    return {"diameter": "20 mm", "end": "horn", "horn": {"distance": ["0 mm", "8 cm"], "area": [first, last]}}


def without_end(exit):
    return {key: value for key, value in exit.items() if key != "end"}


TABLE = {"frequency": ["20 Hz"], "resistance": [1.0], "reactance": [0.0]}
WHOLE_TABLE = {"frequency": ["20 Hz", "20 kHz"], "resistance": [1.0, 1.0], "reactance": [0.0, 0.0]}


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"air.temperature": "300 K"}, r"air.temperature: a temperature is written in degrees Celsius.*received 300 K"),
        ({"air.humidity": "45 %"}, r"air.humidity: must be a plain number, .*; received '45 %'; write 0.45$"),
        ({"air.humidity": 1.5}, r"air.humidity: must be less than or equal to 1; received 1.5"),
        ({"motor.force_factor": "9 N"}, r"motor.force_factor: 'N' is not a unit of force factor"),
        ({"motor.coil_resistance": "0 ohm"}, r"motor.coil_resistance: must be above 0; received 0 ohm"),
        ({"motor.inductance": {"kind": "ideal"}}, "the law 'ideal' needs inductance; received none"),
        (
            {"motor.inductance": {"kind": "power law", "coefficient": inf, "exponent": 0.5}},
            "motor.inductance.coefficient: must be less than or equal to 1000000000000; received inf",
        ),
        ({"exit.table": {**TABLE, "reactance": [nan]}}, "exit.table.reactance.*: must .*received nan"),
        (
            {"second_section.table": {**TABLE, "blocked_pressure": [-1e308], "phase": [0.0]}},
            r"second_section.table.blocked_pressure.*: must be greater than or equal to -1000000000000; received -1e",
        ),
        ({"motor.inductance.kind": "square"}, "motor.inductance.kind: must be 'ideal'.*received 'square'"),
        ({"rear_chamber.volume": "-25 cm3"}, r"rear_chamber.volume: must be above 0; received -25 cm3"),
        ({"rear_chamber.volume": "25 mm"}, "'mm' is not a unit of volume"),
        ({"rear_chamber.filling": 2}, "rear_chamber.filling: must be less than or equal to 1"),
        ({"front.kind": "baffle"}, "front.gap: a face in a baffle has no 'gap': take it out"),
        ({"front.open_rear": True}, "'open_rear' belongs to kind = \"baffle\"; received kind = \"thin chamber\""),
        ({"front": {"kind": "baffle", "flange_depth": "-1 mm"}}, "front.flange_depth: must .*; received -1 mm"),
        ({"front": {"kind": "baffle"}}, r"\[exit\] needs slots that lead to it: a \[front\] of the kind \"baffle\""),
        ({"front.slots": []}, "front.slots: a front needs its slots"),
        ({"front.slots": [DRIVER["front"]["slots"][0]] * 41}, "front.slots: must hold no more than 40; received 41"),
        (
            {"front.gap": {"distance": [f"{k} um" for k in range(201)], "width": ["1 mm"] * 201}},
            "distance: must hold no more than 200; received 201",
        ),
        (
            {"front.plug": {"r": ["9 mm"] * 201, "z": ["9 mm"] * 201}},
            "front.plug.r: must hold no more than 200; received 201",
        ),
        (
            {"front.gap": {"distance": ["0 mm", "1 mm"], "width": ["1 mm"] * 201}},
            "front.gap: needs two or more values of distance and as many of width; received 2 and 201",
        ),
        (
            {"front.gap": {"distance": ["0 mm"], "width": ["1 mm"]}},
            "front.gap: needs two or more values of distance and as many of width; received 1 and 1",
        ),
        (
            {"front.gap": {"distance": ["5 mm", "2 mm"], "width": ["1 mm", "1 mm"]}},
            "distance: the values of distance must rise; received 5 mm and then 2 mm",
        ),
        ({"front.volume": "4 ml"}, "'thin chamber' needs one of gap or plug; received gap and volume"),
        ({"front.slots.1.channel.areas": ["1 cm2"]}, "channel.areas: needs two or more areas; received 1"),
        ({"front.slots.1.channel.areas": ["1 cm2", "0 cm2"]}, "must be above 0; received 0 cm2"),
        ({"exit.end": "horn"}, 'exit.end: end = "horn" goes with a table exit.horn; received none'),
        (
            {"exit": horn("3.1415927 cm2", "9 cm2") | {"end": "matched"}},
            'end = "matched" goes with neither exit.horn nor exit.table; received exit.horn',
        ),
        (
            {"exit": without_end(horn("3.1415927 cm2", "9 cm2")) | {"table": WHOLE_TABLE}},
            "one of horn and table ends an exit; received both",
        ),
        (
            {"exit": horn("1 cm2", "0 cm2")},
            r"exit.horn.area\[1\]: must be above 0; received 0 cm2",
        ),
        (
            {"exit": horn("1 cm2", "9 cm2")},
            r"must begin with the exit's own area, 3\.142 cm2 of 20 mm; received 1 cm2.*diameter to 11\.28 mm",
        ),
        ({"exit": {"diameter": "20 mm", "end": "table", "table": TABLE}}, "values of frequency.*received 1, 1 and 1"),
        ({"second_section.table": {"frequency": []}}, "second_section.table"),
        ({"second_section.crossover.order": 3}, "second_section.crossover.order: must be 2, 4 or 8; received 3"),
    ],
)  # fmt: skip
def test_tables_that_cannot_be_are_refused(changes, message):
    with pytest.raises(DesignError, match=message):
        made(**changes)


@pytest.mark.parametrize(
    ("left_out", "message"),
    [
        (("exit", "second_section"), r"\[front\] needs \[exit\]"),
        (("front", "second_section"), r"\[exit\] needs \[front\]"),
        (("motor",), r"\[second_section\] needs a \[motor\]"),
        (("front", "exit"), r"\[second_section\] needs \[front\] and \[exit\]"),
    ],
)
def test_tables_that_need_each_other_are_asked_for(left_out, message):
    with pytest.raises(DesignError, match=message):
        design_from({key: value for key, value in {**PART, **DRIVER}.items() if key not in left_out})


BAFFLE = {"kind": "baffle", "flange_depth": "2 mm", "mounting_ring": "3 mm", "level_distance": "50 cm"}


def test_a_baffle_is_read_and_has_no_rear_of_two_kinds():
    front = design_from({**PART, "front": BAFFLE}).driver.front
    assert (front.flange_depth, front.mounting_ring, front.level_distance) == pytest.approx((2e-3, 3e-3, 0.5))
    assert not front.open_rear and design_from({**PART, "front": {"kind": "baffle"}}).driver.front.level_distance == 1.0
    both = {**PART, "front": {**BAFFLE, "open_rear": True}, "rear_chamber": DRIVER["rear_chamber"]}
    with pytest.raises(DesignError, match=r"front.open_rear: the rear is open or closed by a .*, not both"):
        design_from(both)


def test_a_motor_needs_a_drive_circle():
    part = {
        "wall": PART["wall"],
        "profile": {"kind": "free", "r": ["0 mm", "10 mm"], "z": ["0 mm", "0 mm"]},
        "motor": DRIVER["motor"],
    }
    with pytest.raises(DesignError, match=r"\[motor\] needs a drive circle"):
        design_from(part)
