"""Arrays that nobody can change behind another's back."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

import numpy as np

from shellgen.canvas import frozen_array

if TYPE_CHECKING:
    from _typeshed import DataclassInstance


def freeze(value: DataclassInstance) -> None:
    """Makes every array field of a frozen dataclass a read-only copy (called from `__post_init__`)."""
    for item in fields(value):
        array = getattr(value, item.name)
        if isinstance(array, np.ndarray) and array.flags.writeable:
            object.__setattr__(value, item.name, frozen_array(array, array.dtype.type))
