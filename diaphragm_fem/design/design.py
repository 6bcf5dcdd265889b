"""A design: the meridian of a diaphragm with walls, zones, coil and edges, in SI units, frozen."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

from diaphragm_fem.design.driver.driver import Driver
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.curve import Curve
from diaphragm_fem.design.meridian.edge import FREE, Edge
from diaphragm_fem.design.meridian.wall import Wall
from diaphragm_fem.design.meridian.zone import Zone


@dataclass(frozen=True)
class Winding:
    """A winding smeared over a piece of the former: mass in kg, hoop stiffness E A of its section in N.

    The piece's own length spreads both; the drive acts evenly along it. conductor: the name of its material; inside: it
    lies on the former's face toward the axis, for who draws it.
    """

    mass: float
    hoop_stiffness: float
    loss_factor: float = 0.0
    conductor: str = field(default="", compare=False)
    inside: bool = field(default=False, compare=False)


@dataclass(frozen=True)
class Ring:
    """A plain ring at the drive radius: mass in kg and hoop stiffness E A of its section in N."""

    mass: float
    hoop_stiffness: float = 0.0
    loss_factor: float = 0.0


@dataclass(frozen=True)
class Piece:
    """One smooth piece of wall: its mid-surface curve, its zone, its wall, and a winding where it carries one."""

    curve: Curve
    zone: Zone
    wall: Wall
    winding: Winding | None = None

    def part(self, begin: float, end: float) -> Piece:
        """Between two arc lengths in m, beyond its ends too; a winding stays whole."""
        length = self.curve.length
        return replace(self, curve=self.curve.part(begin, end), wall=self.wall.part(begin / length, end / length))


@dataclass(frozen=True)
class Bead:
    """A bead of glue in the corner of former and wall: its free surface from the wall to the former, the faces that it
    sticks to from there back to the wall; zone and material."""

    surface: tuple[Curve, ...]
    faces: tuple[Curve, ...]
    zone: Zone
    material: Material

    @property
    def outline(self) -> tuple[Curve, ...]:
        """Closed, end to end."""
        return (*self.surface, *self.faces)

    @property
    def radius(self) -> float:
        """In m, of its hollow surface."""
        return float(1 / abs(self.surface[1].ends[0].curvature))

    @property
    def inside(self) -> bool:
        """Whether it lies on the former's side toward the axis."""
        return self.surface[0].ends[0].point[0] < self.surface[-1].ends[1].point[0]


@dataclass(frozen=True)
class Design:
    """Everything the mesher needs, and nothing it does not.

    meridian    pieces from the inner edge (or the axis) to the outer edge, end to end.
    joint       the drive circle: the index of the piece that begins there (len(meridian): the outer edge itself);
                None for a part without a drive.
    former      pieces of the coil former from the joint to its free end; empty for a plain ring or no coil.
    ring        the plain ring mass at the joint, if any.
    inner_edge, outer_edge   their supports; None where the meridian meets the axis.
    driver      what surrounds it: air, motor, chambers, slots, exit; None where the file says nothing of them.
    beads       glue fillets between former and wall.
    by_points   whether points or a drawing give the meridian, for what a user can change there.
    notes       what drawing it decided for the user, such as a corner radius made smaller to fit.

    unusual     values outside what is commonly built that the file allows, in words.

    The drive acts evenly over the pieces that carry a winding, else along the joint circle.
    """

    name: str
    meridian: tuple[Piece, ...]
    inner_edge: Edge | None = FREE
    outer_edge: Edge | None = FREE
    joint: int | None = None
    former: tuple[Piece, ...] = ()
    ring: Ring | None = None
    driver: Driver | None = None
    beads: tuple[Bead, ...] = ()
    by_points: bool = field(default=False, compare=False)
    notes: tuple[str, ...] = field(default=(), compare=False)
    unusual: tuple[str, ...] = field(default=(), compare=False)

    def __repr__(self) -> str:
        return f"<Design '{self.name}': {', '.join(zone.name for zone in self.zones)}>"

    @cached_property
    def pieces(self) -> tuple[Piece, ...]:
        """Those of the meridian, then those of the former."""
        return (*self.meridian, *self.former)

    @property
    def former_aside(self) -> float:
        """By how much in m the former's middle stands outside the drive circle."""
        radius = self.joint_radius
        return self.former[0].curve.ends[0].point[0] - radius if self.former and radius is not None else 0.0

    @cached_property
    def zones(self) -> tuple[Zone, ...]:
        """Zones in the order met from the inner edge outward, the former's last."""
        return tuple(dict.fromkeys(piece.zone for piece in self.pieces))

    @cached_property
    def materials(self) -> tuple[Material, ...]:
        """Materials in the order met."""
        met = [layer.material for piece in self.pieces for layer in piece.wall.layers]
        return tuple(dict.fromkeys([*met, *(bead.material for bead in self.beads)]))

    @property
    def joint_radius(self) -> float | None:
        """Radius of the drive circle in metres."""
        if self.joint is None:
            return None
        outer = self.joint == len(self.meridian)
        return self.meridian[self.joint - outer].curve.ends[outer].point[0]
