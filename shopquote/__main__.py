"""Where a run begins: `python -m shopquote`, and the script. Ctrl-C ends it quietly at once."""

import gc
import sys

from shopquote import CYCLES_SOUGHT_EVERY, STOPPED_BY_PERSON


def main() -> None:
    """Load the command line and run it."""
    # A command is short: at the usual pace looking for cycles takes a fifth of its start-up.
    gc.set_threshold(CYCLES_SOUGHT_EVERY)
    try:
        from shopquote.cli.app import main as run
    except KeyboardInterrupt:
        sys.exit(STOPPED_BY_PERSON)
    run()


if __name__ == "__main__":
    main()
