"""The picture of a mistake in a drawing, in the drawing's folder."""

from __future__ import annotations

from shellgen.core import onefile
from shellgen.errors import FitError, ShellgenError
from shellgen.export import svg


def shown(error: ShellgenError) -> str:
    """Writes the picture that an error carries; a sentence that names it, or "" if there is none."""
    picture = getattr(error, "picture", None)
    if picture is None:
        return ""
    path, drawing = picture
    try:
        onefile.write(path, svg.write(drawing))
    except FitError:  # the folder cannot be written: the words of the error must do
        return ""
    return f" {path.name} in the same folder shows the place."
