"""Surface kinds, one file each: a Params and `build(params) -> Surface`."""
