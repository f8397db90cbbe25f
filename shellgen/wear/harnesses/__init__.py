"""Kinds of harness, one file each."""
