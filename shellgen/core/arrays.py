"""Names for arrays by what they hold. Shapes stand in the docstrings."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Ints: TypeAlias = NDArray[np.int64]
Int32s: TypeAlias = NDArray[np.int32]
"""Row indices of sparse matrices, in which scipy and its solvers take them."""
Bools: TypeAlias = NDArray[np.bool_]
Complexes: TypeAlias = NDArray[np.complex128]
Numbers: TypeAlias = NDArray[np.number[Any]]
Singles: TypeAlias = NDArray[np.float32]
Bytes: TypeAlias = NDArray[np.uint8]
Geometries: TypeAlias = NDArray[np.object_]
"""Those of shapely."""
Reals: TypeAlias = NDArray[np.floating[Any]]
"""Floating point of any precision: what goes in comes out in the same."""
