"""Which mode of one list is which of another: pairs by likeness of shape."""

from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array

LEAST_LIKENESS = 0.5  # below it a mode is called lost: more than half of its motion is of another shape


def match_shapes(likeness: Array, least: float = LEAST_LIKENESS) -> list[tuple[int, int]]:
    """Pairs (row, column) of the assignment with the largest sum of likeness; pairs below `least` are dropped."""
    from scipy.sparse.csgraph import min_weight_full_bipartite_matching  # scipy.optimize takes 0.15 s to load

    if not likeness.size:
        return []
    # one more for every pair changes nothing about which pairs are best, and makes each an edge of the graph
    rows, columns = min_weight_full_bipartite_matching(csr_matrix(1 + likeness), maximize=True)
    return [(int(a), int(b)) for a, b in zip(rows, columns, strict=True) if likeness[a, b] >= least]
