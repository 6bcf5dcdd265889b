"""What every section of resting air in a body of revolution is assembled from: two bilinear forms, and its sides."""

from typing import Any

import numpy as np

from diaphragm_fem.arrays import Index


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


def facets_of(mesh: Any, pairs: Index) -> Index:
    """Facet numbers (S,) of a mesh's sides given as pairs (2, S) of points."""
    size = int(mesh.facets.max()) + 1
    (low, high), (first, last) = (np.sort(ends, axis=0).astype(np.int64) for ends in (mesh.facets, pairs))
    key = low * size + high
    order = np.argsort(key)
    return np.asarray(order[np.searchsorted(key[order], first * size + last)])
