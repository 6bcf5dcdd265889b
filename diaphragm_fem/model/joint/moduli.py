"""The moduli that joints are solved with: those of MIDDLE_HZ where they vary over frequency.

A structure is a sum of terms, one per material. What a joint yields is not: how an overlap of soft on stiff gives way
changes its shape as the soft one stiffens. So each term is the tangent at the modulus its material had in the patch:
true there, of second order away from it. A material whose modulus follows its loss is therefore solved with its modulus
in the middle of the band that is asked for.
"""

from functools import lru_cache

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.wall_choice import with_materials

MIDDLE_HZ = 2e3  # of fundamental and break-up mode, in octaves: 80 Hz and 12 kHz of a V, 800 Hz and 26 kHz of a dome


def with_joint_moduli(design: Design) -> Design:
    """The same design, its materials told by their moduli at MIDDLE_HZ."""
    return with_materials(design, _known) if any(map(_changes, design.materials)) else design


def joint_modulus(material: Material) -> float:
    """The modulus in Pa that a joint has of a material."""
    return _known(material).youngs_modulus


@lru_cache(maxsize=256)  # to compare materials takes longer than all else that a design needs of this
def _changes(material: Material) -> bool:
    return _known(material) != material


@lru_cache(maxsize=256)
def _known(material: Material) -> Material:
    return material.known_at(MIDDLE_HZ)
