"""Where a material's loss asks for a modulus that rises, and its modulus does not."""

from functools import lru_cache

import numpy as np

from diaphragm_fem.design.library.evidence import show_frequency
from diaphragm_fem.design.material.material import Material, Relaxation

UNMATCHED_RISE = 1.25  # of a modulus: constant losses of 0.05 over three decades are let pass


@lru_cache(maxsize=256)
def unmatched_loss(material: Material, up_to_hz: float) -> str:
    """A loss without the rise of the modulus that causality asks for, over three decades or the span it is known at.

    Asked: d ln|E*|/d ln f = 2 delta/pi, see `viscoelastic`. A frequency moves with the root of the modulus.
    """
    loss, stiffening = material.loss_factor, material.stiffening
    if isinstance(loss, Relaxation) or (stiffening is not None and stiffening.follows_loss):
        return ""
    spans = [span for span in (loss.frequency_hz, stiffening.frequency_hz if stiffening else ()) if len(span) > 1]
    low = max(up_to_hz / 1e3, *(span[0] for span in spans), 0.0)
    high = min([up_to_hz, *(span[-1] for span in spans)])
    if low >= high:
        return ""
    asked = float(loss.factor(high, low).real)
    given = float(material.storage_ratio(high) / material.storage_ratio(low))
    if abs(np.log(asked / given)) < np.log(UNMATCHED_RISE):
        return ""
    words = (
        "stays as it is"
        if given == 1
        else f"{'rises' if given > 1 else 'falls'} by a factor {max(given, 1 / given):.3g}"
    )
    off = 100 * abs(np.sqrt(asked / given) - 1)
    return (
        f"{material.name}: over {show_frequency(low)} to {show_frequency(high)} its loss asks for a modulus that rises "
        f"by a factor {asked:.3g}, and the one given {words}: resonances it carries may be off by up to {off:.2g} %; "
        "let it follow its loss (youngs_modulus = { value = ..., frequency = ... }, the frequency it was measured at), "
        "or give a table of both"
    )
