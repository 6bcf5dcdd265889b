"""Kinds of NumPy arrays, named once for all signatures."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Index = NDArray[np.int64]
Flags = NDArray[np.bool_]
