"""How large a spike is where it stands, over what its group asks for at the crown."""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.spikes.groups import Group


def graded(group: Group, uv: Floats) -> Floats:
    """(n,) size over the size at the crown's front: linear from crown to rim and from front to rear."""
    out, back = np.hypot(uv[:, 0], uv[:, 1]), 0.5 * (1 - uv[:, 0])
    return (1 + (group.size_at_rim - 1) * out) * (1 + (group.size_at_rear - 1) * back)


def in_steps(grade: Floats, count: int) -> Floats:
    """The grades rounded to at most `count` even steps between the least and the greatest."""
    low, high = grade.min(), grade.max()
    if count == 1 or high - low < 0.01:
        return np.full_like(grade, grade.mean() if count == 1 else high)
    step = (high - low) / (count - 1)
    return np.asarray(low + step * np.floor((grade - low) / step + 0.5 - 1e-9))


def largest(group: Group, uv: Floats) -> Floats:
    """(n,) the most that `in_steps` makes of the size there, whatever other places the group has."""
    ends = np.outer([1, group.size_at_rim], [1, group.size_at_rear])
    low, high = ends.min(), ends.max()
    half = (high - low) / (2 * (group.sizes - 1)) if group.sizes > 1 else high - low
    return np.asarray(np.minimum(graded(group, uv) + half, high))
