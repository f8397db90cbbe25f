"""Spike profiles: one file each, with `body(shape) -> Body` and USES, the figures of a group that it needs beyond base,
height and twist.
"""
