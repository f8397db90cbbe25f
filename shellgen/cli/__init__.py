"""The command line and its texts."""

from shellgen.cli.commands import main

__all__ = ["main"]
