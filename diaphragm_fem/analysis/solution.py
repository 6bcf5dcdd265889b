"""One driven structure of order 0 solved: its modes, its answers at rest and the scan from which all else is read.

Beside that quick way the plain one, D(f) solved as it stands, and how far they are apart.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.analysis.curve.curve import Curve, curve_of
from diaphragm_fem.analysis.curve.reduced import Reduced, reduction
from diaphragm_fem.analysis.curve.sampling import thinned
from diaphragm_fem.analysis.modes.eigen import Eigenpairs
from diaphragm_fem.analysis.modes.modes import first_resonance, rigid_motions
from diaphragm_fem.analysis.modes.own_modulus import eigenpairs_in_span, pairs_at_top_modulus
from diaphragm_fem.analysis.response import above_zero, require_drive, respond
from diaphragm_fem.analysis.static import Static, solve_static
from diaphragm_fem.arrays import Array
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.structure import Structure

FROM_HZ = 20.0  # where curves begin
_STILL = 1e-12  # of the largest squared motion of the coil: less is rounding; all at once move it by a thousandth


@dataclass(frozen=True, eq=False)
class Solution:
    """What is known of a structure between two frequencies in Hz.

    pairs: its undamped modes below the top, each at its own moduli; static: its answers at rest, at the moduli of
    fundamental_hz, or of from_hz where there is no fundamental; reduced: its answers at any frequency.
    """

    structure: Structure
    from_hz: float
    up_to_hz: float
    pairs: Eigenpairs
    fundamental_hz: float | None
    static: Static
    reduced: Reduced

    @cached_property
    def scan(self) -> Curve:
        """The area curve at every frequency it takes to know it."""
        return self.reduced.scan(self.from_hz)

    def curve(self, points: int, *, absolute: bool = False) -> Curve:
        """The area curve at `points` frequencies, its peaks and dips among them."""
        kept = thinned(self.scan, points)
        return self.reduced.with_absolute(kept) if absolute else kept

    @property
    def mode_hz(self) -> Array:
        """Frequencies (M,) in Hz of the modes, rigid motions left out."""
        return self.pairs.frequency_hz[self.structure.rigid_modes :]


def solve(structure: Structure, up_to_hz: float, from_hz: float = FROM_HZ) -> Solution:
    """Solve a driven structure of order 0. Raises AnalysisError without a drive, for another order, too many
    modes, an unknown without mass, or what is loose.

    A coil of 1 g on a spring of 1 kN/m to ground carries 1 g on a spring of 4 kN/m; each sweeps 10 cm2:

    >>> from diaphragm_fem.design.meridian.zone import Role, Zone
    >>> from diaphragm_fem.model.law import Constant
    >>> from diaphragm_fem.model.structure import MASS, Structure, Term
    >>> springs, masses = np.array([[5e3, -4e3], [-4e3, 4e3]]), np.diag([1e-3, 1e-3])
    >>> terms = (Term(springs, Constant(1 + 0.05j)), Term(masses, derivatives=MASS))
    >>> coil, zone = np.array([1.0, 0.0]), Zone("face", Role.DRIVEN)
    >>> found = solve(Structure(0, terms, (zone,), coil, coil, np.array([[1e-3, 1e-3]]), np.array([2e-3])), 2e3)
    >>> found.mode_hz.round(1), 1e4 * found.static.low  # Hz, cm2
    (array([109. , 464.9]), array([20.]))
    >>> peak = np.abs(found.curve(100).total).argmax()
    >>> round(float(found.curve(100).frequency_hz[peak]))  # sqrt(4 kN/m / 1 g)/(2 pi) = 318 Hz
    318
    """
    if structure.order != 0:
        raise AnalysisError(f"only order m = 0 sweeps a volume, received a structure of order {structure.order}")
    require_drive(structure)
    if not (structure.mass.diagonal() > 0).all():
        raise AnalysisError("each unknown needs a mass: no modes speak for one without; leave it out, or give it some")
    top = pairs_at_top_modulus(structure, up_to_hz)
    rigid = rigid_motions(structure, top.squares, up_to_hz)
    _require_one_body(rigid, (structure.pickup @ top.vectors) ** 2)
    structure = structure if rigid == structure.rigid_modes else replace(structure, rigid_modes=rigid)
    basis, small = reduction(structure, up_to_hz, top)
    pairs = eigenpairs_in_span(structure, small, basis, top)
    if not np.isfinite(pairs.squares).all():
        raise AnalysisError("rounding hides its stiffness beside the rest: is each thickness and modulus right?")
    coil = (structure.pickup @ pairs.vectors) ** 2
    fundamental = first_resonance(pairs.squares, coil, structure.rigid_modes)
    static = solve_static(structure, fundamental or from_hz)
    reduced = Reduced(structure, basis, small, up_to_hz, static.low)
    return Solution(structure, from_hz, up_to_hz, pairs, fundamental, static, reduced)


def _require_one_body(rigid: int, coil: Array) -> None:
    """AnalysisError where what costs nothing is not one motion of all with the coil, of which the others' stiffness at
    rest says nothing; coil (M,) its squared motion in each mode, rigid ones first."""
    if rigid > 1 or (rigid and not coil[0] > _STILL * coil.max()):
        still = "" if rigid > 1 else ", which leaves the coil at rest"
        raise AnalysisError(
            f"what nothing holds, or hardly anything, must move with the coil as one; received {rigid} such "
            f"motion{'s' * (rigid > 1)}{still}: tie what is loose to the coil, or hold it"
        )


def solve_area(structure: Structure, frequency_hz: ArrayLike, *, absolute: bool = True) -> Curve:
    """Area curve at given frequencies in Hz, with what is swept in total where asked for.

    Raises AnalysisError without a drive, for an order above 0, or for frequencies that are not above zero.
    """
    frequency = above_zero(frequency_hz)
    reduced = solve(structure, float(frequency.max()), float(frequency.min())).reduced
    curve = reduced.curve(frequency)
    return reduced.with_absolute(curve) if absolute else curve


def direct_area(structure: Structure, frequency_hz: ArrayLike) -> Curve:
    """Area curve the plain way, D(f) solved as it stands at each frequency; its area at rest is left out (nan)."""
    frequency = above_zero(frequency_hz)
    return curve_of(structure, frequency, respond(structure, frequency), np.full(len(structure.zones), np.nan))


def area_error(structure: Structure, curve: Curve) -> float:
    """Largest |S - S direct| over the larger of |S| and the area at rest, by a direct solve at each point of the curve.

    A dozen well-chosen points were seen to tell 0.002 of the worst: errors sit in a few sharp resonances.
    """
    exact = direct_area(structure, curve.frequency_hz).total
    scale = np.maximum(np.abs(exact), abs(float(curve.low.sum())))
    return float(np.max(np.abs(exact - curve.total) / scale))
