"""Where a run begins: `python -m shopquote`, and the script. Ctrl-C ends it quietly at once."""

import sys

from shopquote import STOPPED_BY_PERSON


def main() -> None:
    """Load the command line and run it."""
    try:
        from shopquote.cli.app import main as run
    except KeyboardInterrupt:
        sys.exit(STOPPED_BY_PERSON)
    run()


if __name__ == "__main__":
    main()
