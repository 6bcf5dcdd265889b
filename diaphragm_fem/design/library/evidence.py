"""How far the numbers of a material can be trusted, in words: for the list of materials and for every report."""

from collections.abc import Iterable
from dataclasses import dataclass

from diaphragm_fem.design.material.material import LossFactor, Material, Relaxation

QUANTITIES = {
    "density": "density",
    "youngs_modulus": "Young's modulus",
    "poisson_ratio": "Poisson ratio",
    "loss_factor": "loss factor",
}
MARK = "*"
MARK_LEGEND = (
    f"{MARK} nothing published or measured stands behind this number: it is common practice, remembered or assumed"
)


@dataclass(frozen=True)
class EvidenceRow:
    """One number of one material as printed; `mark` is empty where the number is published or measured."""

    material: str
    quantity: str
    value: str
    range: str
    kind: str
    source: str
    mark: str
    caution: str


def evidence_table(materials: Iterable[Material]) -> list[EvidenceRow]:
    """A row per number, material by material in the order given."""
    return [_row(material, quantity) for material in materials for quantity in QUANTITIES]


def doubtful_numbers(*materials: Material) -> list[str]:
    """One line per number that nothing published stands behind, such as "PEN film: loss factor 0.015 is assumed"."""
    return [_line(row) for row in evidence_table(materials) if row.mark]


def _line(row: EvidenceRow) -> str:
    met = f" (met: {row.range})" if row.range else ""
    return f"{row.material}: {row.quantity} {row.value} is {row.kind}{met}"


def _row(material: Material, quantity: str) -> EvidenceRow:
    value = getattr(material, quantity)
    # A Material made by hand in Python may come without evidence: then its maker vouches for it, and nobody else.
    known = material.evidence.get(quantity)
    words = show_number(quantity, value) if isinstance(value, float | int) else show_loss_factor(value)
    if quantity == "youngs_modulus":
        words += _show_rise(material)
    met, kind, source, mark = "", "unstated", "none given", MARK
    if known is not None:
        met = " to ".join(show_number(quantity, end) for end in known.range or ())
        kind, source, mark = known.kind.value, known.source, MARK if known.doubtful else ""
    return EvidenceRow(material.name, QUANTITIES[quantity], words, met, kind, source, mark, material.caution)


def show_number(quantity: str, value: float) -> str:
    """A number with the unit people use for it: "1360 kg/m^3", "5.2 GPa", "30 MPa", "0.38"."""
    if quantity == "density":
        return f"{value:.4g} kg/m^3"
    if quantity == "youngs_modulus":
        return f"{value / 1e9:.4g} GPa" if value >= 1e9 else f"{value / 1e6:.4g} MPa"
    return f"{value:.4g}"


def show_loss_factor(loss: LossFactor | Relaxation) -> str:
    """ "0.02", "0.1 at 100 Hz, 0.15 at 1 kHz" for a table, or what a relaxation makes of it at decades."""
    if isinstance(loss, Relaxation):
        steps = ", ".join(f"{float(loss(f)):.2g} at {show_frequency(f)}" for f in (100.0, 1e3, 10e3))
        law = f"relaxation, modulus x {loss.rise:.4g} about {show_frequency(loss.frequency_hz)}"
        return f"{steps} ({law}, exponent {loss.exponent:.4g})"
    if not loss.frequency_hz:
        return f"{loss.values[0]:.4g}"
    pairs = zip(loss.values, loss.frequency_hz, strict=True)
    return ", ".join(f"{value:.4g} at {show_frequency(frequency)}" for value, frequency in pairs)


def _show_rise(material: Material) -> str:
    """What is said of the modulus over frequency after its reference value; empty where it is the same."""
    if isinstance(material.loss_factor, Relaxation):
        return " at rest"
    rise = material.stiffening
    if rise is None:
        return ""
    measured = rise.frequency_hz[1:]
    steps = measured or [f for f in (100.0, 1e3, 10e3) if f > rise.frequency_hz[0]]
    moduli = material.youngs_modulus * material.storage_ratio(steps)
    values = ", ".join(
        f"{show_number('youngs_modulus', float(f'{E:.3g}'))} at {show_frequency(f)}"
        for E, f in zip(moduli, steps, strict=True)
    )
    at = f" at {show_frequency(rise.frequency_hz[0])}"
    return f"{at}, {values}" if measured else f"{at}; by its loss {values}"


def show_frequency(frequency_hz: float, *, computed: bool = False) -> str:
    """ "100 Hz", "4.5 kHz"; one that was computed is shown to three digits, "4.50 kHz"."""
    kilo = frequency_hz >= (999.5 if computed else 1e3)
    size = frequency_hz / 1e3 if kilo else frequency_hz
    return f"{f'{size:#.3g}'.rstrip('.') if computed else f'{size:.4g}'} {'kHz' if kilo else 'Hz'}"
