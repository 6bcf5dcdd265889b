"""Free air before a face: the load it puts on the face, and the field that it carries away.

Pressure per motion x = v/(i omega) of the face's patterns:  Z = -omega^2 rho m(k),   k = omega/c,
field  p(r, theta) = -omega^2 rho sum_n g_n(k) x  h_n(k r)/h_n(k R) P_n(cos theta),   r >= R from the middle of the
baffle's opening, theta from the axis; h_n spherical Hankel functions of the second kind. m (N, N) and g_n come from
elements (`model/air/open_air.py`) and depend on the shape alone, so the air of equal faces is kept, whatever its
temperature. Peak phasors, exp(+i omega t).
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.errors import ModelError
from diaphragm_fem.load.air import Air
from diaphragm_fem.load.face_patterns import FacePatterns, face_patterns
from diaphragm_fem.mesh.open_contour import OpenContour
from diaphragm_fem.mesh.open_section import cut_open_section
from diaphragm_fem.model.air.open_air import AirModes, air_modes
from diaphragm_fem.model.air.spherical_waves import carried, carried_away

# on a face that begins on the axis, and on one with an inner edge, which is a V of twice as many pieces: 28 patterns
# left 0.3 dB in nulls of the stepped V, 44 leave 0.02 dB; on the domes 28 leave 0.0003 dB
PATTERNS, PATTERNS_OF_RING = 28, 44
SLOWEST = 325.0  # m/s: speed of sound of the coldest air that is known, 0 deg C, rounded down
SHAPES = 8  # kept, the last ones met
REFINE, WIDE = 1.5, 30.0  # of the elements' lengths, for faces of fewer radians from the middle to the edge
MANY = 100  # frequencies: as many are worth keeping


@dataclass(frozen=True, eq=False)
class OpenAir:
    """The air on one side of a face, on patterns of its pressure."""

    contour: OpenContour
    patterns: FacePatterns
    modes: AirModes

    @property
    def nearest(self) -> float:
        """Distance in m from which on the field is known."""
        return self.modes.radius

    def stiffness(self, air: Air, frequency_hz: ArrayLike) -> Complex:
        """Z (F, N, N) in Pa/m3: generalised pressure per generalised swept volume."""
        omega = 2 * np.pi * np.asarray(frequency_hz, float)
        mass, _ = _answers(self.modes).at(omega / air.sound_speed)
        return np.asarray(-air.density * omega[:, None, None] ** 2 * mass)

    def waves(self, air: Air, frequency_hz: ArrayLike, motion: Complex) -> Complex:
        """Legendre coefficients (F, H) in Pa of the pressure on the hemisphere, for motions (F, N) of the patterns."""
        omega = 2 * np.pi * np.asarray(frequency_hz, float)
        seen = np.einsum("fhn,fn->fh", _answers(self.modes).at(omega / air.sound_speed)[1], motion)
        return np.asarray(-air.density * omega[:, None] ** 2 * seen)

    def pressure(self, air: Air, frequency_hz: ArrayLike, waves: Complex, distance: float, angle: ArrayLike) -> Complex:
        """Pressure (F, A) in Pa at a distance in m and angles (A,) in rad from the axis; for an infinite distance the
        limit of r p exp(i k r) in Pa m. Raises ModelError within the hemisphere."""
        if distance < self.nearest * (1 - 1e-9):
            raise ModelError(
                f"the field is known from {self.nearest * 1e3:.4g} mm before the middle of the baffle's opening on; "
                f"received a distance of {distance * 1e3:.4g} mm: choose a larger distance"
            )
        k = 2 * np.pi * np.asarray(frequency_hz, float) / air.sound_speed
        order, radius = self.modes.order, self.nearest
        if np.isinf(distance):
            spread = carried_away(int(order[-1]), k * radius)[:, order] / k[:, None]
        else:
            spread = carried(int(order[-1]), k * radius, k * distance)[:, order]
        around = legendre.legvander(np.cos(np.asarray(angle, float)), int(order[-1]))[:, order]
        return np.asarray((waves * spread) @ around.T)

    def power(self, air: Air, frequency_hz: ArrayLike, waves: Complex) -> Array:
        """Power (F,) in W that the field carries through the half space."""
        k = 2 * np.pi * np.asarray(frequency_hz, float) / air.sound_speed
        order = self.modes.order
        far = waves * carried_away(int(order[-1]), k * self.nearest)[:, order] / k[:, None]
        return np.asarray((np.abs(far) ** 2 / (2 * order + 1)).sum(axis=1) * np.pi / (air.density * air.sound_speed))


class _Answers:
    """What air answers at wave numbers k (F,), that of many at once kept for who asks for some of them, or again."""

    def __init__(self, modes: AirModes) -> None:
        self._modes = modes
        self._kept: tuple[Array, Complex, Complex] = (np.zeros(0), np.zeros(0, complex), np.zeros(0, complex))

    def at(self, k: Array) -> tuple[Complex, Complex]:
        """m (F, N, N) and g (F, H, N)."""
        known, mass, seen = self._kept  # at once: threads may share a face
        place = np.searchsorted(known, k).clip(max=max(len(known) - 1, 0))
        if len(known) and np.array_equal(known[place], k):
            return mass[place], seen[place]
        found = self._modes.at(k)
        if len(k) >= MANY and np.all(np.diff(k) > 0):
            self._kept = k.copy(), *found
        return found


_answers = lru_cache(maxsize=2)(_Answers)  # of the last two sides met: 20 MB of a V in its recess


@lru_cache(maxsize=SHAPES)
def open_air(contour: OpenContour, up_to_hz: float, count: int = 0, finer: float = 1.0) -> OpenAir:
    """The air before a contour for frequencies up to `up_to_hz`, on `count` patterns of its face (0: as many as usual);
    `finer` divides the lengths of its elements. Raises MeshError for a contour that meets itself."""
    top = 2 * np.pi * up_to_hz / SLOWEST
    refine = finer * (REFINE if top * contour.reach(contour.plane) < WIDE else 1.0)
    patterns = face_patterns(contour, count or (PATTERNS if contour.starts_on_axis else PATTERNS_OF_RING))
    return OpenAir(contour, patterns, air_modes(cut_open_section(contour, top, refine), patterns, top))
