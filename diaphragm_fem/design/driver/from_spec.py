"""From the tables of air, motor, chambers and exit to one Driver in SI."""

from math import pi, radians, sqrt
from pathlib import Path
from typing import Any

import numpy as np

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
from diaphragm_fem.design.spec import driver as tables
from diaphragm_fem.design.spec.exit import ExitSpec, SecondSectionSpec
from diaphragm_fem.design.spec.file import DesignSpec
from diaphragm_fem.errors import DesignError

ZERO_CELSIUS = 273.15
INDUCTANCE = ("inductance", "second_inductance", "resistance", "coefficient", "exponent")


def make_driver(spec: DesignSpec, folder: Path, driven: bool) -> Driver | None:
    """The driver of a file; None where it has none of these tables. Paths are relative to `folder`.

    Raises DesignError where one table needs another that is not there.
    """
    _check_together(spec, driven)
    driver = Driver(
        climate=_climate(spec.air),
        motor=_motor(spec.motor),
        rear_chamber=_rear(spec.rear_chamber),
        front=_front(spec.front),
        exit=_exit(spec.exit),
        second_section=_second(spec.second_section, folder),
    )
    return None if driver == Driver() and spec.air is None else driver


def _check_together(spec: DesignSpec, driven: bool) -> None:
    if spec.front is not None and spec.front.kind == "baffle":
        if spec.exit is not None:
            raise DesignError(
                '[exit] needs slots that lead to it: a [front] of the kind "baffle" has none; take it out'
            )
        if spec.front.open_rear and spec.rear_chamber is not None:
            raise DesignError("front.open_rear: the rear is open or closed by a [rear_chamber], not both; take one out")
    elif (spec.front is None) != (spec.exit is None):
        there, missing = ("front", "exit") if spec.exit is None else ("exit", "front")
        raise DesignError(f"[{there}] needs an [{missing}]: slots lead from the one to the other; add [{missing}]")
    if spec.second_section is not None and spec.exit is None:
        raise DesignError("[second_section] needs [front] and [exit]: it shares the exit of the first; add them")
    if spec.second_section is not None and spec.motor is None:
        raise DesignError("[second_section] needs a [motor]: levels are compared per volt; add it")
    if spec.motor is not None and not driven:
        raise DesignError('[motor] needs a drive circle: give [coil] a kind and a diameter, such as "44 mm"')


def _given(spec: Any, *keys: str) -> dict[str, Any]:
    """The numbers that a table gives, by key; what it leaves out is as the dataclass has it."""
    return {key: float(value) for key in keys if (value := getattr(spec, key)) is not None}


def _climate(spec: tables.AirSpec | None) -> Climate:
    given = {} if spec is None else _given(spec, "temperature", "humidity", "static_pressure")
    if "temperature" in given:
        given["temperature"] += ZERO_CELSIUS
    return Climate(**given)


def _motor(spec: tables.MotorSpec | None) -> Motor | None:
    if spec is None:
        return None
    law = Inductance()
    if spec.inductance is not None:
        law = Inductance(spec.inductance.kind, **_given(spec.inductance, *INDUCTANCE))
    given = _given(spec, "force_factor", "coil_resistance", "voltage", "source_resistance")
    return Motor(inductance=law, **given)


def _rear(spec: tables.RearChamberSpec | None) -> RearChamber | None:
    if spec is None:
        return None
    leak: tuple[Any, ...] = () if spec.leak is None else (float(spec.leak.diameter), float(spec.leak.length))
    return RearChamber(float(spec.volume), spec.filling, spec.loss_factor, *leak, **_given(spec, "depth"))


def _front(spec: tables.FrontSpec | None) -> Front | None:
    if spec is None:
        return None
    width: tuple[float, ...] = ()
    distance: tuple[float, ...] = ()
    if isinstance(spec.gap, tables.GapSpec):
        width, distance = tuple(map(float, spec.gap.width)), tuple(map(float, spec.gap.distance))
    elif spec.gap is not None:
        width, distance = (float(spec.gap),), (0.0,)
    points = () if spec.plug is None else zip(map(float, spec.plug.r), map(float, spec.plug.z), strict=True)
    given = _given(spec, "volume", "flange_depth", "mounting_ring", "level_distance")
    return Front(
        kind=spec.kind, gap_width=width, gap_distance=distance, plug=tuple(points),
        slots=tuple(_slot(k, slot) for k, slot in enumerate(spec.slots)), losses=spec.losses,
        open_rear=spec.open_rear, **given,
    )  # fmt: skip


def _slot(k: int, spec: tables.SlotSpec) -> Slot:
    areas = tuple(map(float, spec.channel.areas or ()))
    if len(areas) == 1:
        raise DesignError(f"front.slots[{k}].channel.areas: needs two or more areas; received 1")
    length, way = float(spec.channel.length), spec.channel.direction
    return Slot(float(spec.radius), float(spec.width), length, spec.side or "", areas, way)


def _exit(spec: ExitSpec | None) -> Exit | None:
    if spec is None:
        return None
    if spec.horn is not None:
        throat = pi * spec.diameter**2 / 4
        if abs(spec.horn.area[0] / throat - 1) > 0.05:
            raise DesignError(
                f"exit.horn.area: must begin with the exit's own area, {throat * 1e4:.4g} cm2 of {spec.diameter.text}; "
                f"received {spec.horn.area[0].text}: change the first area, or the exit's diameter to "
                f"{2e3 * sqrt(spec.horn.area[0] / pi):.4g} mm"
            )
        return Exit(
            float(spec.diameter), "horn", tuple(map(float, spec.horn.distance)), tuple(map(float, spec.horn.area))
        )
    if spec.table is not None:
        impedance = tuple(complex(r, x) for r, x in zip(spec.table.resistance, spec.table.reactance, strict=True))
        return Exit(float(spec.diameter), "table", (), (), tuple(map(float, spec.table.frequency)), impedance)
    return Exit(float(spec.diameter))


def _second(spec: SecondSectionSpec | None, folder: Path) -> SecondSection | None:
    if spec is None:
        return None
    filters, source = spec.crossover, spec.table
    values: dict[str, Any] = {}
    if source is not None:
        phase = [radians(x) for x in source.phase]
        blocked = np.array(source.blocked_pressure) * np.exp(1j * np.array(phase))
        values = {
            "frequency": tuple(map(float, source.frequency)),
            "blocked_pressure": tuple(complex(x) for x in blocked),
            "impedance": tuple(complex(r, x) for r, x in zip(source.resistance, source.reactance, strict=True)),
        }
    crossover = Crossover(
        float(filters.frequency), filters.order, -1 if filters.polarity == "turned" else 1, float(filters.delay or 0.0),
        filters.level,
    )  # fmt: skip
    slots = {f"slot_{key}": value for key, value in _given(spec.slots, "area", "width", "length").items()}
    return SecondSection(
        distance=float(spec.distance), count=spec.slots.count, volume=float(spec.volume), crossover=crossover,
        file="" if spec.file is None else str(folder / spec.file), **slots, **values,
    )  # fmt: skip
