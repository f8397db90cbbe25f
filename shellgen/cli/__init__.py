"""The command line and what it says."""

from shellgen.cli.commands import main

__all__ = ["main"]
