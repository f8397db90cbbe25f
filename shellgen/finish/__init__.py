"""Score lines, paint and masks."""
