"""Whose colour a zone wears, by name: sheets and pages paint these names, each on its own ground."""

from collections.abc import Sequence
from itertools import cycle

from diaphragm_fem.design.meridian.zone import Role, Zone

TONES = 8
"""How many colours there are in turn, "tone-0" to "tone-7"."""
TONE_OF_ROLE = {Role.DRIVEN: 0, Role.SURROUND: 1, Role.STEP: 2, Role.BEYOND: 3}
"""Which of them a role wears too."""


def zone_looks(zones: Sequence[Zone]) -> list[str]:
    """The name of each zone's colour: its role's ("driven", "beyond-step", ...), or without a role one in turn that no
    role of the part wears: a rim without one was red as a step. A winding beside its former is of ink."""
    windings = [zone for zone in zones if zone.role is Role.COIL][1:]
    worn = {TONE_OF_ROLE.get(zone.role) for zone in zones}
    free = cycle(tone for tone in range(TONES) if tone not in worn)
    looks = (f"tone-{next(free)}" if zone.role is Role.OTHER else zone.role.replace(" ", "-") for zone in zones)
    return ["ink" if zone in windings else look for zone, look in zip(zones, looks, strict=True)]
