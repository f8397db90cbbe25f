"""Names for arrays by what they hold. Shapes stand in the docstrings."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Ints: TypeAlias = NDArray[np.int64]
Bools: TypeAlias = NDArray[np.bool_]
Complexes: TypeAlias = NDArray[np.complex128]
Reals: TypeAlias = NDArray[np.floating[Any]]
"""Floating point of any precision: what goes in comes out in the same."""
