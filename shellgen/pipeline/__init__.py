"""From a preset to a finished shell: which stage gets what. One file a subject; nothing is computed here."""

from __future__ import annotations

from shellgen.pipeline.shell import Shell, shell_of

__all__ = ["Shell", "shell_of"]
