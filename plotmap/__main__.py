"""``python -m plotmap`` is the command line."""

import sys

_EXIT_STOPPED = 130


def main() -> None:
    """Start the command line; Ctrl-C while it loads ends it without a word."""
    try:
        from plotmap.cli import main as commands  # noqa: PLC0415 - loading takes a moment
    except KeyboardInterrupt:
        sys.exit(_EXIT_STOPPED)
    commands(prog_name="plotmap")


if __name__ == "__main__":
    main()
