"""Seam plans: how the lines to cut are chosen. One file per plan, found by name."""
