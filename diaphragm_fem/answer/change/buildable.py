"""What can be built of a design, as far as that is plain: no advice may lead where it cannot."""

from collections.abc import Iterator

from diaphragm_fem.design.design import Design
from diaphragm_fem.errors import DesignError

THINNEST, THINNEST_FORMER = 6e-6, 20e-6  # films and foils; what a coil is wound on: common practice, no source
SHORTEST = 3.0  # thicknesses of a zone's wall along it: shorter it is a bead, not a wall


def check_buildable(design: Design, before: Design) -> None:
    """Raises DesignError with the zone that a design has too thin or too short and the one `before` has not."""
    known = dict(_unbuildable(before))
    for zone, why in _unbuildable(design):
        if zone not in known:
            raise DesignError(f"{zone}: {why}")


def _unbuildable(design: Design) -> Iterator[tuple[str, str]]:
    """Each zone that cannot be built, and why not."""
    for pieces, thinnest in ((design.meridian, THINNEST), (design.former, THINNEST_FORMER)):
        for zone in dict.fromkeys(piece.zone for piece in pieces):
            own = [piece for piece in pieces if piece.zone == zone]
            thickest = max(piece.wall.own.thickest for piece in own)
            if thickest < thinnest:
                yield zone.name, f"a wall of {1e6 * thickest:.3g} um; {1e6 * thinnest:.3g} um are about the thinnest"
            elif (length := sum(piece.curve.length for piece in own)) < SHORTEST * thickest:
                yield zone.name, f"{1e3 * length:.3g} mm long, less than {SHORTEST:.0f} of its thicknesses"
