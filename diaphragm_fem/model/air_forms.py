"""The two bilinear forms of resting air in a body of revolution, which every section of air is assembled from."""

from __future__ import annotations

from typing import Any

import numpy as np


def air_forms() -> tuple[Any, Any]:
    """Forms of scikit-fem for pressures p, q over a section: 2 pi r grad p . grad q, and 2 pi r p q, full turn."""
    from skfem import BilinearForm
    from skfem.helpers import dot, grad

    @BilinearForm
    def flow(p, q, w):  # type: ignore[no-untyped-def]
        return 2 * np.pi * w.x[0] * dot(grad(p), grad(q))

    @BilinearForm
    def store(p, q, w):  # type: ignore[no-untyped-def]
        return 2 * np.pi * w.x[0] * p * q

    return flow, store
