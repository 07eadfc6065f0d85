"""``python -m plotmap`` is the command line."""

from plotmap.cli import main

main(prog_name="plotmap")
