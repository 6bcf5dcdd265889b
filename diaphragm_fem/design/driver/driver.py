"""What surrounds the diaphragm, as its file says: air, motor, chambers, slots, exit, a second section; in SI."""

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Inductance:
    """One of five kinds: none, ideal, two-stage, power law, semi-inductance.

    inductance and second_inductance in H; resistance in ohm; coefficient in ohm s^n; exponent n.
    """

    kind: str = "none"
    inductance: float = 0.0
    second_inductance: float = 0.0
    resistance: float = 0.0
    coefficient: float = 0.0
    exponent: float = 0.5


@dataclass(frozen=True)
class Motor:
    """force_factor Bl in N/A, coil_resistance R_e and source_resistance R_g in ohm, voltage in V (rms)."""

    force_factor: float
    coil_resistance: float
    inductance: Inductance = Inductance()
    voltage: float = 2.83  # common practice
    source_resistance: float = 0.0


TABLES = ("air", "motor", "rear_chamber", "front", "exit", "second_section")  # of the design file that are about it


@dataclass(frozen=True)
class Climate:
    """temperature in K, relative humidity 0 to 1, static pressure in Pa."""

    temperature: float = 293.15
    humidity: float = 0.5
    static_pressure: float = 101325.0


@dataclass(frozen=True)
class RearChamber:
    """volume in m3; filling 0 (empty) to 1; loss factor of the filling; a round leak's diameter and length in m.

    depth in m behind the face of a straight chamber, in which waves stand; None where it is a spring.
    """

    volume: float
    filling: float = 0.0
    loss_factor: float = 0.0
    leak_diameter: float | None = None
    leak_length: float = 0.0
    depth: float | None = None


@dataclass(frozen=True)
class Slot:
    """A ring slot: radius of its centre at the middle of the gap, width, channel length, all in m.

    side: "inner" or "outer" of the drive circle, "" where the radius alone says where. areas in m2 at even distances
    along the channel, empty where its width stays; direction "normal" to the face or "axial" says how it then goes on.
    """

    radius: float
    width: float
    length: float
    side: str = ""
    areas: tuple[float, ...] = ()
    direction: str = "normal"


@dataclass(frozen=True)
class Front:
    """kind: "even pressure", "thin chamber" or "baffle".

    gap: widths in m at distances in m along the face from its inner end (a single width holds everywhere), or plug:
    points (r, z) in m of a contour of its own. volume in m3 of an even-pressure chamber, where it is not the gap's own.
    In a baffle: flange_depth and mounting_ring in m, whether the rear is open too, level_distance in m.
    """

    kind: str
    gap_width: tuple[float, ...] = ()
    gap_distance: tuple[float, ...] = ()
    plug: tuple[tuple[float, float], ...] = ()
    volume: float | None = None
    slots: tuple[Slot, ...] = ()
    losses: bool = True
    flange_depth: float = 0.0
    mounting_ring: float = 0.0
    open_rear: bool = False
    level_distance: float = 1.0  # common practice


@dataclass(frozen=True)
class Exit:
    """diameter in m; end "matched", "horn" (area in m2 at distance in m) or "table" (impedance in Pa s/m3 over Hz)."""

    diameter: float
    end: str = "matched"
    distance: tuple[float, ...] = ()
    area: tuple[float, ...] = ()
    frequency: tuple[float, ...] = ()
    impedance: tuple[complex, ...] = field(default=())


@dataclass(frozen=True)
class Crossover:
    """frequency in Hz, order 2, 4 or 8; polarity +1 or -1, delay in s and level in dB of the second section."""

    frequency: float
    order: int = 4
    polarity: int = 1
    delay: float = 0.0
    level: float = 0.0


@dataclass(frozen=True)
class SecondSection:
    """A lower section that joins the exit through a branch of slots.

    distance: exit length in m from where the channels meet to the junction. count slots, each of slot_area in m2,
    slot_width and slot_length in m, behind a volume in m3. The section itself: another driver's file, or blocked
    pressure (Pa per volt) and impedance (Pa s/m3) over frequency in Hz.
    """

    distance: float
    count: int
    slot_area: float
    slot_width: float
    slot_length: float
    volume: float
    crossover: Crossover
    file: str = ""
    frequency: tuple[float, ...] = ()
    blocked_pressure: tuple[complex, ...] = ()
    impedance: tuple[complex, ...] = ()


@dataclass(frozen=True)
class Driver:
    """All of it; parts that the file leaves out are None, and the diaphragm then moves without them."""

    climate: Climate = Climate()
    motor: Motor | None = None
    rear_chamber: RearChamber | None = None
    front: Front | None = None
    exit: Exit | None = None
    second_section: SecondSection | None = None
