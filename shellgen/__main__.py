"""`python -m shellgen` is the command line too."""

from shellgen.cli import main

main(prog_name="shellgen")
