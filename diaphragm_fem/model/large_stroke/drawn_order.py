"""What one circumferential order makes of a drawn shell that is to move far: found once, whatever its state."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array
from diaphragm_fem.model.large_stroke.bent_joints import BentJoints, bent_joints
from diaphragm_fem.model.shell.added import supports
from diaphragm_fem.model.shell.line import OrderTerms
from diaphragm_fem.model.shell.shell import ShellModel
from diaphragm_fem.model.structure import Structure, Term


@dataclass(frozen=True, eq=False)
class DrawnOrder:
    """Order m of a shell model; factors: the moduli of its materials as it is moved, over the reference ones."""

    model: ShellModel
    m: int
    factors: Sequence[float]

    @cached_property
    def terms(self) -> OrderTerms:
        """Strains and motions of the local functions about the drawn meridian, and their numbering."""
        return self.model.line.order_terms(self.m)

    @cached_property
    def structure(self) -> Structure:
        """The drawn shape's."""
        return self.model.structure(self.m)

    @cached_property
    def joints(self) -> BentJoints | None:
        """What ends and joints change; nothing in the bare theory."""
        return bent_joints(self.model, self.terms, self.factors)

    @cached_property
    def weight(self) -> Array:
        """Quadrature weight (E, 2) of the stiffness times R ds and the integral over the circle, in m2."""
        at = self.model.line.stiff.at
        return np.asarray(self.terms.around * at.weight * at.r)

    @cached_property
    def kept(self) -> list[Term]:
        """What stays linear in the unknowns: elastic supports, and what holds a surround on its former."""
        return [*supports(self.model.line, self.terms), *self.model.held_along(self.terms)]

    @cached_property
    def fixed(self) -> csr_matrix:
        """Its stiffness (n, n), at the reference modulus."""
        size = self.terms.numbering.size
        return csr_matrix(sum((term.matrix for term in self.kept), csr_matrix((size, size))))
