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
from diaphragm_fem.design.spec.exit import ExitSpec, ImpedanceSpec, SecondSectionSpec, SourceSpec
from diaphragm_fem.design.spec.file import DesignSpec
from diaphragm_fem.design.spec.quantities import in_si, plain
from diaphragm_fem.errors import DesignError

ZERO_CELSIUS = 273.15


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
        raise DesignError(f"[{there}] needs [{missing}]: slots lead from the one to the other; add [{missing}]")
    if spec.second_section is not None and spec.exit is None:
        raise DesignError("[second_section] needs [front] and [exit]: it shares the exit of the first; add them")
    if spec.second_section is not None and spec.motor is None:
        raise DesignError("[second_section] needs a [motor]: levels are compared per volt; add it")
    if spec.motor is not None and not driven:
        raise DesignError('[motor] needs a drive circle: give [coil] a kind and a diameter, such as "44 mm"')


def _climate(spec: tables.AirSpec | None) -> Climate:
    given = in_si(spec)
    if "temperature" in given:
        given["temperature"] += ZERO_CELSIUS
    return Climate(**given)


def _motor(spec: tables.MotorSpec | None) -> Motor | None:
    if spec is None:
        return None
    return Motor(**in_si(spec, "inductance"), inductance=Inductance(**in_si(spec.inductance)))


def _rear(spec: tables.RearChamberSpec | None) -> RearChamber | None:
    if spec is None:
        return None
    return RearChamber(**in_si(spec, "leak"), **{f"leak_{key}": value for key, value in in_si(spec.leak).items()})


def _front(spec: tables.FrontSpec | None) -> Front | None:
    if spec is None:
        return None
    gap: dict[str, Any] = {"distance": (0.0,), "width": (plain(spec.gap),)} if spec.gap is not None else {}
    if isinstance(spec.gap, tables.GapSpec):
        gap = in_si(spec.gap)
    points = () if spec.plug is None else zip(*in_si(spec.plug).values(), strict=True)
    return Front(
        **in_si(spec, "gap", "plug", "slots"), **{f"gap_{key}": value for key, value in gap.items()},
        plug=tuple(points), slots=tuple(_slot(k, slot) for k, slot in enumerate(spec.slots)),
    )  # fmt: skip


def _slot(k: int, spec: tables.SlotSpec) -> Slot:
    if len(spec.channel.areas or ()) == 1:
        raise DesignError(f"front.slots[{k}].channel.areas: needs two or more areas; received 1")
    return Slot(**in_si(spec, "channel"), **in_si(spec.channel))


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
        return Exit(float(spec.diameter), "horn", **in_si(spec.horn))
    if spec.table is not None:
        return Exit(
            float(spec.diameter), "table", frequency=plain(spec.table.frequency), impedance=_impedance(spec.table)
        )
    return Exit(float(spec.diameter))


def _impedance(spec: ImpedanceSpec | SourceSpec) -> tuple[complex, ...]:
    return tuple(map(complex, spec.resistance, spec.reactance))


def _second(spec: SecondSectionSpec | None, folder: Path) -> SecondSection | None:
    if spec is None:
        return None
    source, values = spec.table, dict[str, Any]()
    if source is not None:
        blocked = np.array(source.blocked_pressure) * np.exp(1j * np.array([radians(x) for x in source.phase]))
        values = {
            "frequency": plain(source.frequency),
            "blocked_pressure": tuple(complex(x) for x in blocked),
            "impedance": _impedance(source),
        }
    polarity = -1 if spec.crossover.polarity == "turned" else 1
    crossover = Crossover(**in_si(spec.crossover, "polarity"), polarity=polarity)
    slots = {f"slot_{key}": value for key, value in in_si(spec.slots, "count").items()}
    return SecondSection(
        distance=float(spec.distance), count=spec.slots.count, volume=float(spec.volume), crossover=crossover,
        file="" if spec.file is None else str(folder / spec.file), **slots, **values,
    )  # fmt: skip
