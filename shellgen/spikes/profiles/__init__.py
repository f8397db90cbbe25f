"""Spike profiles: one file each, with `body(shape) -> SpikeBody` and USES, the figures of a group that it needs beyond
base, height and twist.
"""
