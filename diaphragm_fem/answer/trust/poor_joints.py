"""Joints that the shell, or the drawing itself, knows badly: soft walls held by their middle, walls at a former."""

from math import pi

from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.meridian.zone import Role
from diaphragm_fem.design.units.units import show
from diaphragm_fem.mesh.former_top import OVER
from diaphragm_fem.model.joint.lying_wall import WHOLLY, lying_wall

BUTT = 2.5  # ratio of thickness from which a stiff wall is said to hold a soft one by its middle ...
STIFFER = 10.0  # ... and of modulus
PUNCH = 16 / (12 * pi)
# a rigid strip on soft ground turns by 16 M (1 - nu^2)/(pi E a^2), a wall by 12 M (1 - nu^2) x/(E h^3)
NEARLY = 0.05  # of a former's thickness: so near to where its joint is drawn in another way that is told


def butted(stiff: Piece, soft: Piece, place: float, by_points: bool) -> str:
    """A thin stiff wall that ends on the middle of a thick soft one, which then turns about it like soft ground about a
    rigid strip of the width a (Muskhelishvili; Johnson, Contact Mechanics (1985), ch. 2, from memory): as if it were
    PUNCH (h/a)^2 h longer, of an incompressible wall; the patch of `joint.patch` has 0.35 to 0.38 of that square."""
    if len(stiff.wall.layers) > 1 or len(soft.wall.layers) > 1 or modulus(stiff) < STIFFER * modulus(soft):
        return ""
    thin, thick = float(stiff.wall.thickness(1.0 - place)), float(soft.wall.thickness(place))
    if thick < BUTT * thin:
        return ""
    longer = PUNCH * thick**3 / thin**2
    return (
        f"{soft.zone.name}: butted against {stiff.zone.name}, whose {1e3 * thin:.3g} mm hold its "
        f"{1e3 * thick:.3g} mm by their middle: it turns there as if it were up to {1e3 * longer:.2g} mm longer. If it "
        f"is glued on, {_glued_on(soft, by_points)}"
    )


def _glued_on(soft: Piece, by_points: bool) -> str:
    """How a design file of its kind says that a wall lies on the one beside it."""
    if not by_points and soft.zone.role is Role.SURROUND:
        return 'write overlap = { length = "1 mm", side = "front" } into its table'
    layers = "make the stretch where both lie a zone with the layers of both"
    return layers if by_points else f"draw the meridian by points and {layers}"


def modulus(piece: Piece) -> float:
    return piece.wall.layers[0].material.youngs_modulus


def along_former(design: Design) -> str:
    """The wall beyond the former that leaves the joint beside it."""
    lying = lying_wall(design)
    if not lying or lying.touch < WHOLLY * lying.thick:
        return ""
    return (
        f"{lying.run[0][1].zone.name}: it lies along the former over {show(lying.touch)}, "
        f"{lying.touch / lying.thick:.2g} mean thicknesses of the two: "
        + (
            "the shell holds it there, and fundamentals of 43 harsh domes were up to 1.3 % off, 95 % of their modes "
            "within 1.2 %, but some in which wall and former bend up to 15 %: for these believe the solid"
            if lying.share
            else "for the shell layers meet it in a point, and modes may be 1 to 20 % too low: believe the solid"
        )
    )


def near_another_drawing(design: Design) -> tuple[str, ...]:
    """That a former's joint is all but drawn in another way, by shell and solid alike; none where it is not."""
    from diaphragm_fem.mesh.section import reach_of_top

    reach, most = reach_of_top(design), 0.5 + OVER
    if reach is None or abs(reach - most) > NEARLY:
        return ()
    return (
        "former: a small change of a length may make modes jump, by 0.2 % in the median of 13 such domes, mostly by "
        "less than 3 %, at worst by 8 % (m = 0), for its joint is all but drawn in another way: the rear face above "
        f"it reaches {reach:.3g} of its thickness from its middle, just {'below' if reach <= most else 'above'} the "
        f"{most:g} at which that changes; the second opinion shares that",
    )
