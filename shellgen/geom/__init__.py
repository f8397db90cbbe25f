"""Pure geometry on numpy and scipy. Knows nothing of shells."""
