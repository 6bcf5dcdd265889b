"""The moduli that joints are solved with.

What a joint yields is no sum over materials: an overlap of soft on stiff gives way by another law as the soft one
stiffens. The terms of a structure are such sums, so that each is the tangent at the modulus its material had in the
patch, true there and of second order away from it. Materials whose modulus follows their loss are therefore told by
that of the middle of what is asked.
"""

from __future__ import annotations

from functools import lru_cache

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.material import Material
from diaphragm_fem.design.other_material import with_materials

MIDDLE_HZ = 2e3  # of fundamental and break-up mode, in octaves: 80 Hz and 12 kHz of a V, 800 Hz and 26 kHz of a dome


def with_joint_moduli(design: Design) -> Design:
    """The same design, its materials told by their moduli at MIDDLE_HZ."""
    if all(_known(material) == material for material in design.materials):
        return design
    return with_materials(design, _known)


def joint_modulus(material: Material) -> float:
    """The modulus in Pa that a joint has of a material."""
    return _known(material).youngs_modulus


@lru_cache(maxsize=256)
def _known(material: Material) -> Material:
    return material.known_at(MIDDLE_HZ)
