"""Prints jobs whose time somebody outside has printed beside ours: `python -m tests.bench.bench_outside`.

Shall reach: ours within a fifth of theirs, or the reason beside it. Sources: `tests/outside_times.py`.
"""

from tests.outside_times import OUTSIDE_TIMES, our_minutes


def main() -> None:
    print(f"{'job':42} {'theirs':>7} {'ours':>7} {'of it':>6}")
    for row in OUTSIDE_TIMES:
        theirs, ours = row.minutes(row.job()), our_minutes(row)
        missed = "" if 0.8 <= ours / theirs <= 1.2 else "  beyond a fifth"
        print(f"{row.what:42} {theirs:7.0f} {ours:7.0f} {ours / theirs:6.2f}{missed}  {row.why}")


if __name__ == "__main__":
    main()
