"""Charts as plain SVG: a price split into its parts, a price by quantity, a bar with its cuts."""

from collections.abc import Sequence
from decimal import Decimal
from math import log

from markupsafe import Markup

WIDE, HIGH = 1000.0, 42.0
LONGEST_LABEL = 28
LETTER_WIDE = 9.0  # about the width of a letter, in units of a picture
CHART_WIDE, CHART_HIGH, LEFT, FOOT = 480.0, 230.0, 44.0, 190.0


def sawn_bar(parts: Sequence[tuple[str, float, str]], label: str, high: float = HIGH) -> Markup:
    """A bar split into parts: (share, text, class), with class us, back, waste, lost or none.

    `high` is its height in units of the picture.
    """
    whole = sum(size for _, size, _ in parts) or 1.0
    pieces, at = [], 0.0
    for text, size, kind in parts:
        # A millimetre of air on both sides stands for the saw's cut; thin parts keep half of one, to be seen
        # at all.
        width = size / whole * WIDE
        pieces.append(
            Markup('<rect class="piece {}" x="{}" y="2" width="{}" height="{}"/>').format(
                kind, f"{at + 1:.1f}", f"{max(width - 2, 0.5):.1f}", f"{high - 4:.0f}"
            )
        )
        # A text that does not fit is left out; the label of the picture has it.
        if text and width > LETTER_WIDE * len(text):
            pieces.append(
                Markup('<text class="on-{}" text-anchor="middle" x="{}" y="{}">{}</text>').format(
                    kind or "bar", f"{at + width / 2:.1f}", f"{high / 2 + 5:.0f}", text
                )
            )
        at += width
    return Markup(
        '<svg class="sawn" viewBox="0 0 {} {}" preserveAspectRatio="none" role="img" aria-label="{}">{}</svg>'
    ).format(f"{WIDE:.0f}", f"{high:.0f}", label, Markup("").join(pieces))


def price_curve(steps: Sequence[tuple[int, Decimal]], chosen: int) -> Markup:
    """The price of one set by quantity, on a logarithmic scale of quantities."""
    if len(steps) < 2:
        return Markup("")
    most, least = max(sets for sets, _ in steps), min(sets for sets, _ in steps)
    top = max(float(price) for _, price in steps) or 1.0
    places = [
        (
            # Quantities grow by factors, so 1, 10 and 100 are equally far apart.
            LEFT + (log(sets / least) / log(most / least)) * (CHART_WIDE - 2 * LEFT),
            FOOT - float(price) / top * 150,
            sets,
            price,
        )
        for sets, price in steps
    ]
    line = "L".join(f"{x:.1f} {y:.1f}" for x, y, _, _ in places)
    # Label the quoted quantity first, then the least and the most, then others where there is room.
    order = sorted(places, key=lambda place: (place[2] != chosen, place[2] not in (least, most), place[2]))
    prices = _with_room([(x, sets, f"{price:,f}") for x, _, sets, price in order])
    numbers = _with_room([(x, sets, str(sets)) for x, _, sets, _ in order])
    dots = Markup("").join(
        Markup(
            '<circle class="dot{}" cx="{}" cy="{}" r="5"/>'
            '<text class="price num" text-anchor="middle" x="{}" y="{}">{}</text>'
            '<text class="soft" text-anchor="middle" x="{}" y="209">{}</text>'
        ).format(
            " chosen" if sets == chosen else "", f"{x:.1f}", f"{y:.1f}", f"{x:.1f}", f"{y - 12:.1f}",
            prices.get(sets, ""), f"{x:.1f}", numbers.get(sets, ""),
        )
        for x, y, sets, _ in places
    )  # fmt: skip
    told = ", ".join(f"{sets} sets {price}" for sets, price in steps)
    return Markup(
        '<svg class="chart" viewBox="0 0 480 230" role="img" aria-label="price a set by quantity: {}">'
        '<path class="axis" d="M30 190H470"/><path class="curve" d="M{}"/>{}'
        '<text class="soft" x="470" y="226" text-anchor="end">sets</text></svg>'
    ).format(told, line, dots)


def _with_room(labels: Sequence[tuple[float, int, str]]) -> dict[int, str]:
    """The labels that do not overlap an earlier one, by quantity."""
    taken: list[tuple[float, float]] = []
    shown = {}
    for x, sets, words in labels:
        half = LETTER_WIDE * len(words) / 2
        if all(x + half < left or x - half > right for left, right in taken):
            taken.append((x - half, x + half))
            shown[sets] = words
    return shown


def _fitted(name: str) -> str:
    """A name cut to the room of a label, with an ellipsis if it was cut."""
    return name if len(name) <= LONGEST_LABEL else f"{name[: LONGEST_LABEL - 1].rstrip()}…"


def bars_chart(rows: Sequence[tuple[str, float, str]], unit: str, label: str) -> Markup:
    """A bar chart of gains and losses; each row is (name, value, address that it links to)."""
    most = max((abs(value) for _, value, _ in rows), default=0.0) or 1.0
    high, drawn = 26, []
    for number, (name, value, to) in enumerate(rows):
        y, width = number * high, abs(value) / most * 260
        bar = Markup(
            '<text class="soft" x="200" y="{}" text-anchor="end">{}</text>'
            '<rect class="piece {}" x="{}" y="{}" width="{}" height="18"/>'
            '<text class="num" x="{}" y="{}">{}</text>'
        ).format(
            y + 18, _fitted(name), "us" if value >= 0 else "lost", "210", y + 4, f"{max(width, 1):.1f}",
            f"{216 + width:.1f}", y + 18, f"{value:,.1f}{unit}",
        )  # fmt: skip
        drawn.append(Markup('<a href="{}">{}</a>').format(to, bar))
    return Markup(
        '<svg class="chart rows" viewBox="0 0 560 {}" role="group" aria-label="{}">{}</svg>'
    ).format(max(len(rows), 1) * high + 4, label, Markup("").join(drawn))
