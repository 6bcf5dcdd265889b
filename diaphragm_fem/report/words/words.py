"""Numbers and names as people write them: SI in, words with the unit of the trade out."""

import re
from collections.abc import Iterable, Sequence
from math import floor, isfinite, log10

from diaphragm_fem.analysis.figures.response_bands import Band
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.library.evidence import MARK, doubtful_numbers
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.wall import Layer
from diaphragm_fem.design.meridian.zone import Zone

NONE = "none"


def digits(value: float, count: int = 3) -> str:
    """Plain decimal number rounded to `count` significant digits, never in powers of ten: 0.0123, 4.56, 1230."""
    if not isfinite(value):
        return "unbounded" if value == value else "undefined"
    if value == 0:
        return "0"
    places = count - 1 - floor(log10(abs(value)))
    rounded = round(value, places)
    places = count - 1 - floor(log10(abs(rounded))) if rounded else 0
    return f"{rounded:.{max(places, 0)}f}".replace("-", "−")


def signed(value: float, places: int) -> str:
    """ "+1.2", "−0.3", "±0.0" for what rounds to nothing."""
    text = f"{abs(value):.{places}f}"
    if float(text) == 0:
        return f"±{text}"
    return ("+" if value > 0 else "−") + text


def signed_digits(value: float, count: int = 3) -> str:
    """The same to significant digits: "+0.0123", "−4.56", "0"."""
    return ("+" if value > 0 else "") + digits(value, count)


def show_hz(value: float | None, count: int = 3) -> str:
    """ "364 Hz", "2.20 kHz"; "none" where there is no such frequency."""
    if value is None:
        return NONE
    return f"{digits(value / 1e3, count)} kHz" if value >= 999.5 else f"{digits(value, count)} Hz"


def show_area(value: float | None) -> str:
    return NONE if value is None else f"{digits(value * 1e4)} cm²"


def show_mm(length: float) -> str:
    """ "3.21 mm"; "" for nothing, such as the width of a former."""
    return f"{length * 1e3:.3g} mm" if length > 1e-6 else ""


def show_mass(value: float | None, beside: Iterable[float] = ()) -> str:
    """ "1.13 g", "29.2 mg"; in a column or a sum all in one unit, that of the least unless the largest is ten of the
    next; what is less than a ten-thousandth of the largest as "< 0.001 g"."""
    if value is None:
        return NONE
    masses = [mass for mass in (value, *beside) if mass > 0]
    if not masses:
        return "0 mg"
    least, most = min(masses), max(masses)
    units = ((1, "kg", 1.0), (1e3, "g", 1e-4), (1e6, "mg", 0.0))
    factor, unit = next((k, name) for k, name, begin in units if least >= begin or most * k >= 10)
    told = 10.0 ** floor(log10(1e-4 * most * factor))
    return f"< {told:g} {unit}" if 0 < value * factor < told else f"{digits(value * factor)} {unit}"


def show_level(value: float) -> str:
    """A level, not a change of one: "−3.1 dB"; 0 has no sign."""
    return f"{value:z.1f} dB".replace("-", "−")


def show_db(value: float | None) -> str:
    """ "+5.3 dB", "−6.8 dB", "±0.0 dB"; "none" where there is no level."""
    return NONE if value is None else f"{signed(value, 1)} dB"


def show_band(band: Band) -> str:
    """ "132 Hz to 1.20 kHz, 3.2 octaves"; ">= 5.6 octaves" where it may go on beyond the range."""
    return f"{show_hz(band.from_hz)} to {show_hz(band.to_hz)}, {show_octaves(band)}"


def show_octaves(band: Band) -> str:
    """ "3.2 octaves", "≥ 5.6 octaves"."""
    return f"{'≥ ' if band.at_least else ''}{digits(band.octaves, 2)} octaves"


def printed(words: str) -> str:
    """Amounts of a file as they are printed: µm for um, and a minus that is no hyphen."""
    return re.sub(r"(?<![\w.])-(?=\d)", "−", re.sub(r"(?<=\d )um\b", "µm", words))


def join_words(words: Sequence[str]) -> str:
    """ "", "a", "a and b", "a, b and c"."""
    return " and ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))


def show_share(value: float) -> str:
    """A relative difference or error: "0.12 %", "< 0.001 %"."""
    percent = abs(value) * 100
    if percent < 0.001:
        return "< 0.001 %"
    return f"{digits(value * 100, 2)} %"


def show_bound(value: float) -> str:
    """What an error stays within, at least the last digit shown: "0.001 %", "0.12 %"."""
    return show_share(value) if abs(value) > 1e-5 else "0.001 %"


def signed_share(value: float) -> str:
    """Signed relative difference in percent, "−0.045 %"."""
    return f"{100 * value:+.3f} %".replace("-", "−")


def show_thickness(pieces: Iterable[Piece]) -> str:
    """Thickness of a zone's own wall, one value or the smallest and largest met, and of what is glued on it: "30 µm",
    "20 to 30 µm", "30 µm, + 120 µm over 0.8 mm"."""
    pieces = list(pieces)
    told = [show_own_thickness(pieces)]
    glued: dict[Zone, list[tuple[Layer, float]]] = {}
    for piece in pieces:
        for layer in piece.wall.layers:
            if layer.glued is not None:
                glued.setdefault(layer.glued, []).append((layer, piece.curve.length))
    for found in glued.values():
        thick = _span(x for layer, _ in found for x in (layer.begin_thickness, layer.end_thickness))
        told.append(f"+ {thick} over {show_mm(sum(length for _, length in found))}")
    return ", ".join(told)


def show_own_thickness(pieces: Iterable[Piece]) -> str:
    """That without what is glued on."""
    return _span(float(t) for piece in pieces for t in piece.wall.own.thickness((0.0, 0.5, 1.0)))


def _span(values: Iterable[float]) -> str:
    low, *_, high = sorted((*values,) * 2)
    return f"{high * 1e6:.4g} µm" if high - low < 1e-3 * high else f"{low * 1e6:.4g} to {high * 1e6:.4g} µm"


def pieces_of(design: Design, zone: Zone) -> list[Piece]:
    return [piece for piece in (*design.meridian, *design.former) if piece.zone == zone]


def materials_of(pieces: Iterable[Piece]) -> list[Material]:
    found = {layer.material.name: layer.material for piece in pieces for layer in piece.wall.layers}
    return list(found.values())


def name_materials(pieces: Iterable[Piece]) -> str:
    """ "PEN film*", or "aluminium alloy + phenolic cloth*": the mark where a number is not published; a winding goes by
    its conductor: "copper on polyimide film"."""
    pieces = list(pieces)
    wound = next((f"{p.winding.conductor} on " for p in pieces if p.winding is not None and p.winding.conductor), "")
    names = (material.name + (MARK if doubtful_numbers(material) else "") for material in materials_of(pieces))
    return wound + " + ".join(names)


def one(count: int, thing: str, things: str | None = None) -> str:
    """ "1 mode", "3 modes"."""
    return f"{count} {thing if count == 1 else things or thing + 's'}"
