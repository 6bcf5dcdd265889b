"""Where to solve a resonant curve so that its peaks and dips are found, and which of the solved points to keep."""

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Protocol, Self, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.analysis.curve.curve import Curve, picked
from diaphragm_fem.analysis.curve.resonances import Poles
from diaphragm_fem.arrays import Array, Complex, Flags, Index
from diaphragm_fem.errors import AnalysisError

PER_DECADE = 134
HALF_WIDTHS = np.array([-12, -4, -1.5, -0.6, 0, 0.6, 1.5, 4, 12])
_FARTHEST = 0.02  # of a pole's frequency: beyond one even step from it those serve; a fifth fewer points of films
_LEAST_WIDTH = 2e-8  # of a pole's frequency: narrower ones are sampled as if this wide
APART = 1e-8  # of a frequency: points are at least so far from one another
HIDDEN_ROUNDS = 4
_PHASE_STEP = 0.7  # radians between neighbours beyond which a peak or a dip may hide there
_BEND = 0.17  # nepers by which a stretch may bend, told from the slopes beside it, before its middle is solved
MARGIN = 0.03  # of a stretch: new points keep that far from its ends
_EVEN_SHARE = 0.4  # of the kept points go evenly over the logarithm of frequency, the others where the curve bends
TOP_ROUNDS = 10
SETTLED = 10 ** (0.2 / 10)  # an extreme whose neighbours' squared sizes are that near, ...
_GAIN = 10 ** (0.02 / 10) - 1  # ... and whose parabola promises no more than that, needs no more points
_DEEPEST = 0.05  # of an extreme's squared size: a parabola that falls farther is not believed
_PROMINENCE = 10 ** (0.1 / 20)  # of an extreme's level over its neighbours', below it the extreme need not be kept


class Scannable(Protocol):
    """Anything over frequency_hz (F,) with complex values (V, F) to watch, that joins another of its kind."""

    @property
    def frequency_hz(self) -> Array: ...

    @property
    def watched(self) -> Complex: ...

    def joined(self, other: Self) -> Self: ...


AnyCurve = TypeVar("AnyCurve", bound=Scannable)


def scanned(solve: Callable[[Array], AnyCurve], guides: Sequence[Poles], from_hz: float, up_to_hz: float) -> AnyCurve:
    """The curve at every frequency it takes to know it: 134 a decade, up to nine a pole, more where the phase of
    a watched value steps, and at the extremes of each.

    Between two points about a lone zero the curve itself is nearly straight in the complex plane, about a lone pole
    its inverse is: where straight lines come nearest to zero is where the next points go. An extreme is placed by the
    parabola of the squared size, of its inverse for a peak, both exact for a lone pole or zero, until its neighbours'
    levels are within 0.2 dB and the parabola promises less than 0.02 dB.
    Raises AnalysisError for a top frequency not above the lowest.
    """
    if not up_to_hz > from_hz:
        raise AnalysisError(
            f"the top frequency must lie above {from_hz:g} Hz, where area curves begin; received {up_to_hz:g} Hz"
        )
    even = _even(from_hz, up_to_hz)
    about = np.concatenate([np.zeros(0), *map(_about, guides)])
    curve = solve(np.sort(np.append(even, between(about, even))))
    may_hide = True  # until none did: what joins then lies about extremes that are seen
    for turn in range(max(HIDDEN_ROUNDS, TOP_ROUNDS)):
        frequency, watched = curve.frequency_hz, curve.watched
        size = np.abs(watched)
        hidden = _hidden(frequency, watched, size) if may_hide and turn < HIDDEN_ROUNDS else np.zeros(0)
        extra = between(np.append(hidden, _tops(frequency, size)) if turn < TOP_ROUNDS else hidden, frequency)
        if not len(extra):
            break
        may_hide = len(hidden) > 0
        curve = curve.joined(solve(extra))
    return curve


def thinned(curve: Curve, points: int) -> Curve:
    """`points` of a scan: the extremes of area and response, and others by equal steps of the area's length and of how
    either turns, for at the fundamental the response alone does. More than that only where the extremes alone are more.
    """
    frequency = curve.frequency_hz
    if points >= len(frequency):
        return curve
    kept, watched = np.zeros(len(frequency), bool), curve.watched
    kept[[0, *np.concatenate([extremes(np.abs(one)) for one in watched]), -1]] = True
    size = np.abs(curve.total)
    size = np.log(size + (1e-3 * np.median(size) or 1.0))  # of one that sweeps nothing all is alike
    phase = np.abs(np.angle(watched[:, 1:] * watched[:, :-1].conj())).max(axis=0)
    even = np.diff(np.log(frequency))
    bend = np.sqrt(np.hypot(np.diff(size), np.minimum(phase, 0.5)) * even)
    measure = _EVEN_SHARE * even / even.sum() + (1 - _EVEN_SHARE) * bend / (bend.sum() or 1.0)
    place = np.concatenate(([0.0], np.cumsum(measure)))
    wanted = max(points - int(kept.sum()), 0)
    others = np.flatnonzero(~kept)
    kept[others[np.searchsorted(place[others], np.linspace(0, place[-1], wanted)).clip(0, len(others) - 1)]] = True
    left = np.flatnonzero(~kept)
    if len(left) > len(kept) - points:  # steps that share a point: fill up with those farthest from their neighbours
        gain = place[left + 1] - place[left - 1]
        kept[left[np.argsort(-gain)[: points - int(kept.sum())]]] = True
    return picked(curve, np.flatnonzero(kept))


def extremes(size: Array) -> Index:
    """Indices of the local extremes of a sampled positive size that stand out by a tenth of a decibel."""
    index = np.flatnonzero(_turns(size)) + 1
    if len(index) < 2:
        return index
    step = size[index[1:]] / size[index[:-1]]
    far = np.maximum(step, 1 / step) > _PROMINENCE
    return index[np.concatenate((far, [True])) | np.concatenate(([True], far))]


def between(places: ArrayLike, frequency: Array) -> Array:
    """Those of places, in rising order, that lie between frequencies (F,), rising, and apart from these and from each
    other: nearer points differ by rounding, which would make peaks where none are."""
    places = np.sort(places)
    places = places[np.diff(places, prepend=0.0) > APART * places]
    after = np.searchsorted(frequency, places).clip(1, len(frequency) - 1)
    room = np.minimum(places - frequency[after - 1], frequency[after] - places)
    return np.asarray(places[room > APART * places])


def peak(frequency: Array, size: Array, k: int) -> tuple[float, float]:
    """How large a sampled size (F,) is at its peak about its largest point k, and where in Hz: by the parabola of
    1/size^2 over the square of frequency through three points, exact for one degree of freedom."""
    about = slice(k - 1, k + 2)
    if 0 < k < len(size) - 1 and size[about].min() > 0 and max(size[k - 1], size[k + 1]) < size[k]:
        found = vertex(frequency[about] ** 2, size[about] ** -2.0)
        if found is not None and found[1] > 0:
            return found[1] ** -0.5, found[0] ** 0.5
    return float(size[k]), float(frequency[k])


def vertex(at: Array, value: Array) -> tuple[float, float] | None:
    """Where the parabola through three points (3,) turns, and its value there; None where they lie on a line."""
    (begin, middle, end), (first, here, last) = at.tolist(), value.tolist()
    before, after, up, down = middle - begin, end - middle, here - first, here - last
    bend = before * down + after * up
    if not bend:
        return None
    shift = -(before**2 * down - after**2 * up) / (2 * bend)
    slope, curvature = up / before, -bend / (before * after * (before + after))  # Newton's form
    return middle + shift, here + shift * (slope + curvature * (shift + before))


@lru_cache(maxsize=16)
def _even(from_hz: float, up_to_hz: float) -> Array:
    return np.geomspace(from_hz, up_to_hz, int(PER_DECADE * np.log10(up_to_hz / from_hz)) + 2)


def _about(poles: Poles) -> Array:
    half = np.maximum(poles.half_width_hz, _LEAST_WIDTH * poles.frequency_hz)[:, None]
    at, away = poles.frequency_hz[:, None], half * HALF_WIDTHS
    return np.asarray((at + away)[np.abs(away) < _FARTHEST * at])


def _hidden(frequency: Array, value: Complex, size: Array) -> Array:
    """Frequencies between points where an extreme of one of the values (V, F), of such sizes, may hide: where straight
    lines of it and of its inverse come nearest to zero, if the phase differs by much; the middle there, too, since
    false positions creep along one end; and the middle of stretches whose neighbours climb or fall quite differently.
    """
    a, b, wide = value[:, :-1], value[:, 1:], np.diff(frequency)
    with np.errstate(divide="ignore", invalid="ignore"):
        turned = np.abs(np.angle(b / a)) > _PHASE_STEP
        slope = np.diff(np.log(size)) / wide
        turn = np.zeros(value.shape)
        turn[:, 1:-1] = np.abs(np.diff(slope))
        bent = np.maximum(turn[:, :-1], turn[:, 1:]) * wide / 4 > _BEND
    open_still = wide > 2 * APART * frequency[1:]
    some, halved = np.nonzero(turned & open_still), np.nonzero((turned | bent) & open_still)[1]
    a, b, steps = a[some], b[some], some[1]
    # neither is zero, and they are apart: the phase turns
    share = np.stack((_nearest(a, b), _nearest(1 / a, 1 / b))).clip(MARGIN, 1 - MARGIN)
    near = frequency[steps] + share * wide[steps]
    return np.concatenate((near.ravel(), frequency[halved] + wide[halved] / 2))


def _nearest(a: Complex, b: Complex) -> Array:
    """Where between a (0) and b (1) the straight line is nearest to zero."""
    along = b - a
    return np.asarray(-(a * along.conj()).real / np.abs(along) ** 2)


def _turns(size: Array) -> Flags:
    """Where sizes (..., F), the ends left out, turn from rising to falling or back; of equal neighbours one."""
    falls = np.diff(size) < 0
    return np.asarray(falls[..., 1:] != falls[..., :-1])


def _tops(frequency: Array, size: Array) -> Array:
    """Where extremes of sizes (V, F) that are not yet settled may stand: the vertices of the parabolas through them and
    their neighbours, and to both sides of these where the parabola is half as far off as a settled extreme's neighbours
    may be. One that is misplaced by less than half of that way is settled at once: 1.2 to 1.7 rounds instead of 2.2."""
    row, before_it = np.nonzero(_turns(size))
    index = before_it + 1
    at, square = frequency[index], size[row, [index - 1, index, index + 1]] ** 2
    before, after = at - frequency[index - 1], frequency[index + 1] - at
    with np.errstate(divide="ignore", invalid="ignore"):
        height = np.where(square[1] > square[0], 1 / square, square)
        up, down = (height[0] - height[1]) / before, (height[2] - height[1]) / after
        curvature = (up + down) / (before + after)
        slope = (down * before - up * after) / (before + after)
        vertex = at - slope / (2 * curvature)
        gain = slope**2 / (4 * curvature) / height[1]
        beside = (height[[0, 2]] / height[1]).max(axis=0)
        aside = np.sqrt((SETTLED**0.5 - 1) * height[1] * np.maximum(1 - gain, _DEEPEST) / curvature)
    some = (gain > _GAIN) | (beside > SETTLED)
    places = (vertex + aside * [[0], [-1], [1]])[:, some]
    return places[(places > (at - before)[some]) & (places < (at + after)[some])]
