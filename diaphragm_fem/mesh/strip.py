"""A strip: one piece of the meridian with its wall laid out in rows, ready to be cut into cells.

A point of the wall lies at x(s, o) = P(s) + o (n + lean t): s the arc length on the mid-surface, o the distance from
it, and lean the mitre, zero along the piece and fading in over the `fade` length next to a kink, so that both walls
meet on the bisector of the kink. The fade must exceed the mitre shift (h/2) tan(turn/2) or cells turn inside out.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.meridian.curve import normal
from diaphragm_fem.mesh.rows import RowLayers, row_thickness


class End(NamedTuple):
    """One end of a strip.

    rows (R,) thicknesses in m shared with the neighbour and the height `rear` in m of the rear face over the meridian,
    reached over the length `shoulder`; lean the mitre, reached
    over the length `fade`; first_cell the length in m that cells should begin with where the stress is singular,
    infinite where it is not; held the thickness in m of the middle by which a thick soft wall is held there, its lips
    beyond it being free, 0 where it is held over its whole section; met the row borders that are the neighbour's, all
    but where something that is glued on ends square.
    """

    rows: Array
    rear: float
    lean: float
    fade: float
    shoulder: float
    first_cell: float
    held: float = 0.0
    met: slice = slice(None)


@dataclass(frozen=True)
class Strip:
    """One piece, its index in the design, the layer and share of it behind each row, and its two ends."""

    piece: Piece
    index: int
    layers: RowLayers
    begin: End
    end: End

    @property
    def length(self) -> float:
        return self.piece.curve.length

    def rows(self, s: ArrayLike) -> Array:
        """Row thicknesses (..., R) in m at arc lengths s: the wall's own, fading to the shared ones at each end."""
        s = np.asarray(s, float)
        own = row_thickness(self.piece.wall, self.layers, s / self.length)
        for end, place, fade in self._shoulders(s):
            own = own + fade[..., None] * (end.rows - row_thickness(self.piece.wall, self.layers, place))
        return own

    def rear(self, s: Array) -> Array:
        """Height (...) in m of the rear face over the meridian at arc lengths s, fading like the rows."""
        own = self.piece.wall.rear(s / self.length)
        for end, place, fade in self._shoulders(s):
            own = own + fade * (end.rear - self.piece.wall.rear(place))
        return own

    def _shoulders(self, s: Array) -> list[tuple[End, Array, Array]]:
        """Of each end that has a shoulder its place along the piece, and what is left (...) of it at arc lengths s."""
        ends = ((self.begin, 0.0, s), (self.end, 1.0, self.length - s))
        return [(end, np.array(place), _fade(x, end.shoulder)) for end, place, x in ends if end.shoulder > 0]

    @property
    def lips(self) -> tuple[bool, bool]:
        """Whether it stands out over its neighbour at its begin and at its end."""
        begin, end = (float(end.rows.sum()) * (1 - 1e-12) > end.held > 0 for end in (self.begin, self.end))
        return begin, end

    def borders(self, s: Array) -> Array:
        """Heights (..., R + 1) in m of row borders over the meridian, from the rear to the front face, at arc lengths
        s."""
        above = np.cumsum(self.rows(s), axis=-1)
        return self.rear(s)[..., None] + np.concatenate((np.zeros((*s.shape, 1)), above), axis=-1)

    def points(self, s: ArrayLike) -> Array:
        """Row borders (..., R + 1, 2) from the rear to the front face at arc lengths s."""
        s = np.asarray(s, float)
        tangent = self.piece.curve.tangent(s)
        lean = self.begin.lean * _fade(s, self.begin.fade) + self.end.lean * _fade(self.length - s, self.end.fade)
        direction = normal(tangent) + lean[..., None] * tangent
        return self.piece.curve.point(s)[..., None, :] + self.borders(s)[..., None] * direction[..., None, :]


def _fade(distance: Array, length: float) -> Array:
    return np.clip(1 - distance / length, 0, 1) if length > 0 else np.zeros_like(distance)
