"""Types nonsense at the shape reader, and what it accepts at the whole of a part, until the time is up.

Run by hand: `nice python tests/bench/fuzz_shapes.py 600` (seconds). Anything but an answer or one of our own
errors is printed with the text that caused it, and the run ends with 1.
"""

import random
import sys
import traceback
from time import perf_counter

from shopquote.calc.bar.part import analyse_part
from shopquote.calc.bar.shapes import SHAPE_WORDS, parse_shape
from shopquote.calc.job import BEND_AXES, DIMS, PartSpec
from shopquote.errors import ShopquoteError
from shopquote.services.shop.starting import starting_shop

SHOP = starting_shop()
BARS = [
    "round 12",
    "square 16",
    "hex 13",
    "flat 40 x 6",
    "tube 26.9 x 2.6",
    "box 30 x 20 x 2",
    "angle 40 x 30 x 4",
    "round 1",
    "flat 100 x 0.5",
]
NUMBERS = ["0", "1", "24", "90", "-90", "180", "360", "-181", "33.333", "5/8", "2-7/16", "7' 6-1/2\"",
           "12 mm", "1.25 m", "1e9", "nan", "inf", "999999999999", "0.000001", "½", "٣",
           "−45", "1/0", "", "--1", "90°"]  # fmt: skip
JOINTS = [
    "r",
    "d",
    "to",
    "from",
    "turns",
    "pitch",
    "over",
    "gap",
    "hits",
    "lap",
    "rolled",
    "outside",
    "centre",
    ";",
]
SOUP = "0123456789.;-/ '\"rdLegbntuowpfhixs°½\n\t\0\u202e\u0660é𝟙"


def sensible(rng: random.Random) -> str:
    """A shape that could be meant, with sizes from silly to real."""
    size = rng.choice([rng.uniform(0.1, 50), rng.uniform(20, 900), 10 ** rng.uniform(-6, 9)])
    small = rng.choice([rng.uniform(5, 80), 10 ** rng.uniform(-3, 8)])
    turns = rng.choice([0.25, 1, 2.5, 7, 199])
    return rng.choice([
        f"leg {size:.4f}",
        f"bend {rng.uniform(-360, 360):.3f} r {small:.4f}",
        f"arc {rng.uniform(-360, 360):.3f} r {small * 20:.4f}",
        f"arc 90 r {small * 20:.4f} gap {10 ** rng.uniform(-4, 3):.6f}",
        f"turn {rng.uniform(-360, 360):.3f}",
        f"ring d {small:.4f} {rng.choice(['', 'outside', 'centre'])}",
        f"helix d {small:.4f} pitch {size:.4f} turns {turns}",
        f"scroll from {small:.4f} to {size:.4f} turns {rng.choice([1, -1]) * turns}",
        f"twist {turns} over {size:.4f}",
        f"taper {size:.4f} to {rng.choice([0, 1, small]):.4f}",
    ])  # fmt: skip


def typed(rng: random.Random) -> str:
    kind = rng.random()
    if kind < 0.45:
        return "; ".join(sensible(rng) for _ in range(rng.randint(1, 8)))
    if kind < 0.75:
        words = [*SHAPE_WORDS, *NUMBERS, *JOINTS]
        return " ".join(rng.choice(words) for _ in range(rng.randint(0, 20)))
    if kind < 0.9:
        text = list("; ".join(sensible(rng) for _ in range(rng.randint(1, 4))))
        for _ in range(rng.randint(1, 4)):
            place = rng.randrange(len(text) + 1)
            text[place : place + rng.randint(0, 2)] = rng.choice(SOUP)
        return "".join(text)
    return "".join(rng.choice(SOUP) for _ in range(rng.randint(0, 60)))


def main(seconds: float, seed: int = 0) -> int:
    rng = random.Random(seed)
    until = perf_counter() + seconds
    tried = read = answered = 0
    slowest, slow_text = 0.0, ""
    while perf_counter() < until:
        text = typed(rng)
        tried += 1
        began = perf_counter()
        try:
            parse_shape(text, rng.choice(("mm", "in")))
            read += 1
            part = PartSpec(
                "A", "a", 1, rng.choice(BARS), rng.choice(("S275", "304", "6061-T6")),
                dims=rng.choice(DIMS), shape=text, bend_axis=rng.choice(BEND_AXES),
            )  # fmt: skip
            analyse_part(part, rng.choice(("mm", "in")), SHOP)
            answered += 1
        except ShopquoteError as error:
            assert error.message
        except Exception:
            print(f"seed {seed}, try {tried}: {text!r}")
            traceback.print_exc()
            return 1
        took = perf_counter() - began
        if took > slowest:
            slowest, slow_text = took, text
    print(
        f"{seconds:g} s, seed {seed}: {tried} texts, {read} read as shapes, {answered} worked out, no fault"
    )
    print(f"  slowest {slowest:.2f} s: {slow_text[:300]!r}")
    return 0


if __name__ == "__main__":
    sys.exit(
        main(float(sys.argv[1]) if len(sys.argv) > 1 else 600.0, int(sys.argv[2]) if len(sys.argv) > 2 else 0)
    )
