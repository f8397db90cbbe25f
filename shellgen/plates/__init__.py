"""Plate layouts, one file each: a Params and `build(surface, params) -> Layout`."""
