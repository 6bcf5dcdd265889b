"""The coil: a former hanging from the drive circle with a winding on it, or a plain ring."""

from collections.abc import Mapping
from dataclasses import replace
from math import ceil, pi

from diaphragm_fem.design.design import Piece, Ring, Winding
from diaphragm_fem.design.library.library import find_material
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.outline import Point
from diaphragm_fem.design.meridian.wall import Wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.design.spec.coil import FormerCoil, RingCoil, WireSpec
from diaphragm_fem.design.units.units import show
from diaphragm_fem.errors import DesignError

FORMER = Zone("former", Role.COIL)
WINDING = Zone("winding", Role.COIL)
SIDES = {"middle": 0, "inside": -1, "outside": 1}  # half thicknesses off the drive circle


def ring_of_mass(mass: float, radius: float, conductor: Material) -> Ring:
    """A ring of the conductor alone: m = rho A 2 pi r, so E A = E m / (rho 2 pi r), in N for m in kg and r in m.

    Modulus and loss as they are at 1 kHz, held over frequency: a conductor is a metal.
    """
    area = mass / (conductor.density * 2 * pi * radius)
    factor = complex(conductor.modulus_factor(1e3))
    return Ring(mass, conductor.youngs_modulus * factor.real * area, factor.imag / factor.real)


def ring_of_wire(wire: WireSpec, height: float, wall: float, radius: float, conductor: Material) -> Ring:
    """Round bare wire on a face of a former: A = n pi d^2/4 and m = rho A 2 pi R, with R that of the middle of as many
    layers as n turns need in `height`; what widens with the former's middle at `radius` r = R -+ (wall + layers d)/2
    is as stiff as E A r/R there. height, wall and radius in m. Enamel and glue are left out.

    Raises DesignError where no turn fits in the height, or the layers not inside the former.
    """
    in_layer = int(height / wire.diameter * (1 + 1e-9))
    if in_layer == 0:
        raise DesignError(
            f"coil.winding_height: the winding must be at least one wire high, received {show(height)} for a wire of "
            f"{show(wire.diameter)}; make it higher or the wire thinner"
        )
    layers = ceil(wire.turns / in_layer)
    middle = radius + SIDES[wire.side] * (wall + layers * wire.diameter) / 2
    if middle - layers * wire.diameter / 2 <= 0:
        raise DesignError(
            f"coil.wire.side: inside the former there must be room for {layers} layers of wire, but its radius is "
            f"{show(radius)}; wind it outside"
        )
    area = wire.turns * pi * wire.diameter**2 / 4
    ring = ring_of_mass(conductor.density * area * 2 * pi * middle, middle, conductor)
    return replace(ring, hoop_stiffness=ring.hoop_stiffness * radius / middle)


def draw_former(
    spec: FormerCoil, joint: Point, wall: Mapping[str, Wall], materials: Mapping[str, Material]
) -> tuple[Piece, ...]:
    """Pieces of the former from the joint (r, z) downward: former, winding, former; those of no height are left out.

    `wall` holds the walls of 'former' and 'winding', the latter being the former's wall under the winding. On a side of
    the drive circle the former stands half its thickness off it.
    Raises DesignError where the winding does not fit on the former, or the former not inside its circle.
    """
    height, wound = spec.former_height, spec.winding_height
    start = height - wound if spec.winding_distance is None else float(spec.winding_distance)
    if start < 0 or start + wound > height * (1 + 1e-9):
        offset = "" if spec.winding_distance is None else f"winding_distance {show(spec.winding_distance)} + "
        raise DesignError(
            f"coil.winding_height: the winding must fit on the former: {offset}winding_height {show(wound)} must be at "
            f"most former_height {show(height)}; make the former higher or the winding shorter"
        )
    conductor = find_material(materials, spec.conductor, where="coil.conductor")
    r, z = joint[0] + SIDES[spec.side] * float(wall["former"].thickness(0.0)) / 2, joint[1]
    if r <= 0:
        raise DesignError(
            "coil.side: inside the drive circle there must be room for half the former's thickness, but its radius is "
            f"{show(joint[0])}; put the former outside, or make it thinner"
        )
    if spec.wire is not None:
        ring = ring_of_wire(spec.wire, wound, float(wall["winding"].thickness(0.5)), r, conductor)
    else:
        ring = ring_of_mass(float(spec.winding_mass or 0.0), r, conductor)
    ring = _as_stiff_as_told(ring, spec)
    inside = spec.wire is not None and spec.wire.side == "inside"
    winding = Winding(ring.mass, ring.hoop_stiffness, ring.loss_factor, conductor.name, inside)
    pieces = []
    for zone, upper, lower in (
        (FORMER, 0.0, start),
        (WINDING, start, start + wound),
        (FORMER, start + wound, float(height)),
    ):
        if lower - upper > 1e-9 * height:
            share = wall[zone.name].part(upper / height, min(lower / height, 1.0))
            curve = Line((r, z - upper), (r, z - lower))
            pieces.append(Piece(curve, zone, share, winding if zone is WINDING else None))
    return tuple(pieces)


def make_ring(spec: RingCoil, radius: float, materials: Mapping[str, Material]) -> Ring:
    """The plain ring at the drive circle of that radius in metres."""
    if spec.conductor is None:
        return Ring(float(spec.mass), float(spec.hoop_stiffness or 0.0))
    conductor = find_material(materials, spec.conductor, where="coil.conductor")
    return _as_stiff_as_told(ring_of_mass(float(spec.mass), radius, conductor), spec)


def _as_stiff_as_told(ring: Ring, spec: FormerCoil | RingCoil) -> Ring:
    return ring if spec.hoop_stiffness is None else replace(ring, hoop_stiffness=float(spec.hoop_stiffness))
