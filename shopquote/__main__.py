"""Entry point of `python -m shopquote` and of the script; Ctrl-C ends it quietly, without a traceback."""

import atexit
import gc
import os
import sys

from shopquote import CYCLES_SOUGHT_EVERY, STOPPED_BY_PERSON


def main() -> None:
    """Load the command line and run it."""
    # A command is short: with Python's usual threshold the garbage collector takes a fifth of its start-up.
    gc.set_threshold(CYCLES_SOUGHT_EVERY)
    status: list[int] = []
    # atexit calls the first registered function last: threads have ended and libraries tidied up by then.
    atexit.register(_end_at_once, status)
    try:
        from shopquote.cli.app import main as run

        run()
    except KeyboardInterrupt:
        sys.exit(STOPPED_BY_PERSON)
    except SystemExit as end:
        if isinstance(end.code, int):
            status.append(end.code)
        raise


def _end_at_once(status: list[int]) -> None:
    """Exit without freeing objects one by one, which takes 35 ms of the processor after a quote.

    `status` holds the exit code, or nothing where the run ended otherwise; then Python ends as usual.
    """
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    except (OSError, ValueError):
        return  # a closed pipe: Python's own shutdown reports it
    if status:
        os._exit(status[0])


if __name__ == "__main__":
    main()
