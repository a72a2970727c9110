"""Work on ends: the stock that it needs beyond the finished length, and the metal that it removes.

A finished part is measured over its ends, worked or not. Begin at `work_end`. Forging keeps volume:
stock = volume / area of the bar (the rule of smiths' books; the loss to scale is the shop's own allowance).
Millimetres, mm3. For solid bar; of hollow bar only saddles, sawing, turning and pressing flat.
"""

from dataclasses import replace
from math import hypot, pi, sqrt

from shopquote.calc.bar.develop import Development, LegPlace, Run, taper_stock_mm
from shopquote.calc.bar.end_metal import EndForging, EndMetal, WorkedEnd
from shopquote.calc.bar.end_words import End, EndForm, EndWord
from shopquote.calc.bar.saddles import saddle_cut
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.sizes import SAME_MM, Say
from shopquote.calc.bar.threads import find_thread
from shopquote.calc.units import Length
from shopquote.errors import CannotMakeError

FORGED: tuple[EndWord, ...] = ("point", "tenon", "flatten", "spread", "head", "fishtail", "scarf")
# Operations whose stock follows from the finished volume.
VOLUME_KEPT: tuple[EndWord, ...] = ("point", "tenon", "head")
# Operations done before the bar is bent, so that they may lie in a curve.
BEFORE_BENDING: tuple[EndWord, ...] = ("point", "flatten", "spread", "fishtail", "scarf", "chamfer", "round")
# Operations on the edge of the end, done last.
EDGES: tuple[EndWord, ...] = ("chamfer", "round")
# Allowance of a scarf for upsetting and welding, in thicknesses of the bar, for each end of the joint: common
# practice, no source; smiths' handbooks say half to once the thickness.
SCARF_SHARE = 0.75
# Upsetting a longer piece, in bar diameters, makes it buckle: three diameters is the rule for upsetting
# unsupported stock in one blow (design rules of a forging association, rule 1).
UPSET_DIAMETERS = 3.0
# Ratio by which a bar may be smaller than the thread cut on it: rolled bar and cold-drawn pins run under size
# (EN 10060 allows 0.4 mm on 16 mm), and a pipe is made to its thread. Common practice, no source.
UNDER_SIZE = 0.04
# Outside less root diameter of a cut thread, in pitches: 2 x 0.6134, ISO 68-1; of pipe 2 x 0.6403, ISO 228-1.
THREAD_DEPTH = 1.2269


def work_end(section: Section, end: End, where: str, say: Say, forge_loss_pct: float = 0.0) -> WorkedEnd:
    """The total effect of all operations on one end; `forge_loss_pct` of forged stock is lost as scale.

    `where` and `say` are for messages: the end's name, and texts in the job's unit.

    Raises:
        CannotMakeError: the bar is too small for an operation, or hollow.
    """
    total = WorkedEnd()
    for _, worked in work_by_form(section, end, where, say, forge_loss_pct)[0]:
        total += worked
    return total


def work_by_form(
    section: Section, end: End, where: str, say: Say, forge_loss_pct: float = 0.0
) -> tuple[list[tuple[EndForm, WorkedEnd]], list[EndForging]]:
    """The effect of each operation on one end, each on what the earlier ones left; edges come last.

    Also gives the forging operations of solid bar in order, one for each of `VOLUME_KEPT`.

    Raises:
        CannotMakeError: the bar is too small for an operation, or hollow.
    """
    metal, found = EndMetal(section.area_mm2), []
    for form in sorted(end.forms, key=lambda form: form.word in EDGES):
        worked = _worked(section, end, form, f"{where}: {form}", say, metal)
        if form.word in FORGED:
            burnt = worked.forged_mm * forge_loss_pct / 100
            worked = replace(
                worked,
                stock_mm=worked.stock_mm + burnt,
                removed_mm3=worked.removed_mm3 + burnt * section.area_mm2,
            )
        found.append((form, worked))
    return found, metal.forgings


def with_ends(
    development: Development,
    section: Section,
    ends: tuple[End, End],
    where: str,
    say: Say,
    forge_loss_pct: float = 0.0,
) -> tuple[Development, float]:
    """A development with the stock that the work on its ends needs, and the metal cut away in mm3.

    Work within the first or last straight changes that straight. Forged or filed work may also reach into a
    curve: it is done before the bar is bent, so marks are measured along the worked bar and only the sawn
    length changes. `forge_loss_pct` of the stock of forged work is lost as scale.

    Raises:
        CannotMakeError: work that needs a straight is on a curve or longer than its straight; a closed ring
            has more than scarfs; no metal is left.
    """
    if not any(end.forms for end in ends):
        return development, 0.0
    runs, removed, stock, legs = list(development.runs), 0.0, 0.0, development.legs
    for place, end in zip((0, -1), ends, strict=True):
        if not end.forms:
            continue
        run, told = runs[place], f"{where}: its {'first' if place == 0 else 'last'} end, {end}"
        worked = work_end(section, end, where, say, forge_loss_pct)
        stock, removed = stock + worked.stock_mm, removed + worked.removed_mm3
        if _lies_in_curve(run, end, worked, development, told, say):
            continue
        runs[place] = replace(run, flat_mm=run.flat_mm + worked.stock_mm)
        legs = _shifted(legs, worked.stock_mm) if place == 0 else legs
    if stock + development.flat_mm <= 0:
        raise CannotMakeError(f"{where}: its ends leave no metal.")
    flat = development.flat_mm + stock
    return replace(development, runs=tuple(runs), flat_mm=flat, legs=legs), removed


def _lies_in_curve(
    run: Run, end: End, worked: WorkedEnd, development: Development, told: str, say: Say
) -> bool:
    """Whether the work on an end reaches into a curve; CannotMakeError where it must not."""
    straight = run.kind == "straight"
    if straight and worked.reach_mm <= run.true_mm + SAME_MM:
        return False
    if run.kind in ("ring", "ellipse") and any(form.word != "scarf" for form in end.forms):
        raise CannotMakeError(f"{told}, is on a {run.kind}.", hint="Only a scarf is made there.")
    if any(form.word not in BEFORE_BENDING for form in end.forms):
        if straight:
            raise CannotMakeError(
                f"{told}, needs {say.up(worked.reach_mm)} of straight; it has {say(run.true_mm)}."
            )
        raise CannotMakeError(f"{told}, is on a {run.kind}.", hint="End it with a leg, or leave it square.")
    if worked.reach_mm > development.true_mm + SAME_MM:
        raise CannotMakeError(
            f"{told}, needs {say.up(worked.reach_mm)} of bar; the part has {say(development.true_mm)}."
        )
    return True


def _shifted(legs: tuple[LegPlace, ...], stock_mm: float) -> tuple[LegPlace, ...]:
    """The legs moved by a change of stock at the first end."""
    return tuple(
        LegPlace(
            leg.measured_from_mm + stock_mm,
            leg.from_mm + stock_mm if leg.from_mm else 0.0,
            leg.to_mm + stock_mm,
        )
        for leg in legs
    )


def _worked(section: Section, end: End, form: EndForm, where: str, say: Say, metal: EndMetal) -> WorkedEnd:
    if form.word == "saddle":
        return _saddle(section, form, where, say)
    if section.form.presses and form.word == "flatten":
        return _pressed_flat(section, form, where, say)
    if section.form.presses and form.word in ("turn", "chamfer", "thread"):
        return _turned_tube(section, end, form, where, say, metal)
    if reason := section.cannot("end"):
        raise CannotMakeError(f"{where}: {reason}.", hint="Use a solid bar, or leave it square.")
    if form.word in FORGED:
        return _forged(section, end, form, where, say, metal)
    return _turned(section, end, form, where, say, metal)


def _turned(section: Section, end: End, form: EndForm, where: str, say: Say, metal: EndMetal) -> WorkedEnd:
    """The effect of lathe and file: no stock is needed, metal is cut away."""
    across = round_before(end, form) or round_within_mm(section)
    if form.word == "turn":
        dia, length = form.mm(0), form.mm(1)
        if dia >= largest_round_mm(section) - SAME_MM:
            raise CannotMakeError(f"{where}: the bar is only {say(largest_round_mm(section))} across.")
        return metal.turned(pi / 4 * dia * dia, length)
    if form.word == "chamfer":
        size = form.mm(0)
        if size >= across / 2:
            raise CannotMakeError(f"{where}: a chamfer is less than half of the bar, {say(across / 2)}.")
        return WorkedEnd(removed_mm3=chamfer_mm3(across, size), reach_mm=size)
    if form.word == "round" and section.form.rectangular and max(section.sizes_mm) > across:
        # A flat rounded over its width: a rectangle of half the width, less the half circle in it.
        wide = max(section.sizes_mm)
        return WorkedEnd(removed_mm3=(0.5 - pi / 8) * wide * wide * section.thickness_mm, reach_mm=wide / 2)
    if form.word == "round":
        # A round end: a cylinder of length r less the hemisphere inside it.
        radius = across / 2
        return WorkedEnd(removed_mm3=pi * radius**3 / 3, reach_mm=radius)
    _refuse_thread(section, end, form, where, say)
    return WorkedEnd(reach_mm=form.mm(0))  # a thread: the metal in its grooves is neglected


def round_before(end: End, form: EndForm) -> float:
    """Diameter in mm of the end before an operation, where one before it made it round; else 0."""
    before = end.forms if form.word in EDGES else end.forms[: end.forms.index(form)]
    return next((one.mm(0) for one in reversed(before) if one.word in ("turn", "tenon", "head")), 0.0)


def _refuse_thread(section: Section, end: End, form: EndForm, where: str, say: Say) -> None:
    """Raise CannotMakeError for a thread larger than the bar, or than it was turned to, by `UNDER_SIZE`."""
    across, thread = round_before(end, form) or largest_round_mm(section), find_thread(form.thread)
    if thread.dia.mm_float > across * (1 + UNDER_SIZE):
        raise CannotMakeError(
            f"{where}: the bar is only {say(across)} across; the thread is {say(thread.dia.mm_float)}.",
            hint="Use a thicker bar, or a smaller thread.",
        )


def _turned_tube(
    section: Section, end: End, form: EndForm, where: str, say: Say, metal: EndMetal
) -> WorkedEnd:
    """Turning and threading a round tube; CannotMakeError where no wall would be left."""
    outside = section.sizes_mm[0]
    bore = outside - 2 * section.thickness_mm
    if form.word == "turn":
        wide = deep = form.mm(0)
        left = section.area_mm2 - pi / 4 * (outside**2 - wide**2)
        worked = metal.turned(left, form.mm(1))
        too_wide = wide > outside + SAME_MM
    else:
        outside = round_before(end, form) or outside
        if form.word == "chamfer":
            size, wall = form.mm(0), (outside - bore) / 2
            if size >= wall:
                raise CannotMakeError(f"{where}: its wall is {say(wall)}; a chamfer is less.")
            return WorkedEnd(removed_mm3=chamfer_mm3(outside, size), reach_mm=size)
        thread = find_thread(form.thread)
        wide, worked = thread.dia.mm_float, WorkedEnd(reach_mm=form.mm(0))
        deep = wide - THREAD_DEPTH * thread.pitch_mm
        too_wide = wide > outside * (1 + UNDER_SIZE)
    if too_wide or deep <= bore:
        raise CannotMakeError(
            f"{where}: this tube is {say(outside)} outside and {say(bore)} inside; {say(wide)} "
            + ("is more than it." if too_wide else "cuts through its wall."),
            hint="Use a tube with a thicker wall, or another size.",
        )
    return worked


def _forged(section: Section, end: End, form: EndForm, where: str, say: Say, metal: EndMetal) -> WorkedEnd:
    """The effect of forging: volume is kept, so the stock follows from the finished volume."""
    area = metal.tip_mm2
    if form.word == "point":
        length, dia = form.mm(0), round_before(end, form)
        drawn = Section("round", (Length(round(dia * 1e6)),)) if dia else section
        stock = point_stock_mm(drawn, form, where, say)
        return metal.forged(area * stock / length, length)
    if form.word == "scarf":
        more = SCARF_SHARE * section.thickness_mm
        return WorkedEnd(stock_mm=more, forged_mm=more)
    if form.word == "tenon":
        dia, length = form.mm(0), form.mm(1)
        if pi / 4 * dia * dia > area + SAME_MM:
            raise CannotMakeError(f"{where}: the bar has less metal than the tenon.", hint="See: head.")
        return metal.forged(pi / 4 * dia * dia, length)
    if form.word == "head":
        dia, height = form.mm(0), form.mm(1)
        stock = upset_stock_mm(area, dia, height)
        if pi / 4 * dia * dia <= area + SAME_MM:
            raise CannotMakeError(f"{where}: the head is no larger than the bar.", hint="See: tenon.")
        size = sqrt(4 * area / pi)
        if stock > UPSET_DIAMETERS * size:
            raise CannotMakeError(
                f"{where}: {say(stock)} of bar upset at once is over {UPSET_DIAMETERS:g} times its size.",
                hint="Weld a collar on, or forge it from a thicker bar.",
            )
        return metal.forged(pi / 4 * dia * dia, height)
    if form.word in ("flatten", "spread"):
        length, left = form.mm(0), form.mm(1)
        thin = form.word == "flatten"
        limit = min(section.sizes_mm) if thin else max(section.sizes_mm)
        if (left >= limit) if thin else (left <= limit):
            raise CannotMakeError(f"{where}: the bar is {say(limit)} already.")
        return WorkedEnd(reach_mm=length, forged_mm=length)
    return WorkedEnd()


def _pressed_flat(section: Section, form: EndForm, where: str, say: Say) -> WorkedEnd:
    """A tube's end pressed flat, at most down to both walls: it becomes wider, not longer."""
    outside, shut, left = section.sizes_mm[0], 2 * section.thickness_mm, form.mm(1)
    if not shut - SAME_MM <= left < outside:
        raise CannotMakeError(
            f"{where}: this tube is pressed to {say(shut)}, both its walls, at the thinnest; it is "
            f"{say(outside)} now."
        )
    return WorkedEnd(reach_mm=form.mm(0), forged_mm=form.mm(0))


def point_stock_mm(section: Section, form: EndForm, where: str, say: Say) -> float:
    """Length in mm of bar that is drawn out to a point, by constant volume.

    A point to one size keeps the bar's proportions. A point to a width and a thickness, on bar with flat
    faces only, is a prismatoid: V = L / 6 (A1 + 4 Am + A2).

    Raises:
        CannotMakeError: the tip is larger than the bar, or two sizes are given for bar without flat faces.

    >>> from shopquote.calc.bar.end_words import parse_end
    >>> from shopquote.calc.bar.sections import parse_section
    >>> form = parse_end("point 100 to 20 x 5", "mm").forms[0]
    >>> point_stock_mm(parse_section("flat 50 x 5", "mm"), form, "End", Say())  # the mean width, 35 of 50
    70.0
    """
    length = form.mm(0)
    if len(form.sizes) == 2:
        try:
            return taper_stock_mm(section, length, form.mm(1))
        except CannotMakeError as error:
            meant = f"point {form.sizes[0].text} to {form.sizes[1].text} x {say(section.thickness_mm)}"
            hint = f"For a width and a thickness: {meant}." if section.form.rectangular else None
            raise CannotMakeError(f"{where}: {error.message}", hint=hint) from None
    if not section.form.rectangular:
        raise CannotMakeError(f"{where}: a {section.kind} has no width and thickness.", hint="Give one size.")
    wide, thick = max(section.sizes_mm), min(section.sizes_mm)
    width, tip = form.mm(1), form.mm(2)
    if width > wide + SAME_MM or tip > thick + SAME_MM:
        raise CannotMakeError(f"{where}: the bar is only {say(wide)} x {say(thick)}.", hint="See: spread.")
    middle = (wide + width) / 2 * (thick + tip) / 2
    return length / 6 * (wide * thick + 4 * middle + width * tip) / section.area_mm2


def upset_stock_mm(area_mm2: float, dia_mm: float, height_mm: float) -> float:
    """Length in mm of bar that is upset to a cylinder, by constant volume.

    >>> round(upset_stock_mm(pi / 4 * 12**2, 18, 20), 1)
    45.0
    """
    return pi / 4 * dia_mm * dia_mm * height_mm / area_mm2


def forged_width_mm(section: Section, form: EndForm) -> float:
    """The other size in mm of an end flattened to a thickness or spread to a width.

    All metal is taken to flow sideways, so it is the bar's area over the given size. What flows lengthwise
    makes it narrower; common practice is to draw it back on edge. A tube keeps the perimeter of its wall's
    middle: pressed to T it is T + pi (D - T) / 2 wide. Derived.

    >>> from shopquote.calc.bar.end_words import parse_end
    >>> from shopquote.calc.bar.sections import parse_section
    >>> bar = parse_section("round 12", "mm")
    >>> round(forged_width_mm(bar, parse_end("flatten 40 to 5", "mm").forms[0]), 2)
    22.62
    >>> tube = parse_section("tube 26.9 x 2.6", "mm")
    >>> round(forged_width_mm(tube, parse_end("flatten 60 to 5.2", "mm").forms[0]), 2)
    39.29
    """
    if section.form.presses:
        return form.mm(1) + pi / 2 * (section.sizes_mm[0] - form.mm(1))
    return section.area_mm2 / form.mm(1)


def section_at(section: Section, ends: tuple[End, End], at_mm: float, flat_mm: float) -> Section:
    """The section at a position along the part: a flat in a flattened or spread end, else the bar's own.

    >>> from shopquote.calc.bar.end_words import parse_end
    >>> from shopquote.calc.bar.sections import parse_section
    >>> ends = (parse_end("spread 30 to 28", "mm"), End())
    >>> [round(size, 2) for size in section_at(parse_section("round 12", "mm"), ends, 15, 300).sizes_mm]
    [28.0, 4.04]
    """
    for end, along in zip(ends, (at_mm, flat_mm - at_mm), strict=True):
        for form in end.forms:
            if form.word in ("flatten", "spread") and along <= form.mm(0):
                sizes = sorted((form.mm(1), forged_width_mm(section, form)), reverse=True)
                return Section("flat", tuple(Length(round(size * 1e6)) for size in sizes))
    return section


def chamfer_mm3(dia_mm: float, size_mm: float) -> float:
    """Volume in mm3 of a 45 degree chamfer of a round: triangle's area times the path of its centroid.

    Source: Pappus' theorem.

    >>> round(chamfer_mm3(20, 2), 3)
    117.286
    """
    return size_mm * size_mm / 2 * pi * (dia_mm - 2 * size_mm / 3)


def _saddle(section: Section, form: EndForm, where: str, say: Say) -> WorkedEnd:
    if not section.form.is_round:
        raise CannotMakeError(f"{where}: only a tube or a round bar is cut to a saddle.")
    try:
        cut = saddle_cut(section.sizes_mm[0], form.mm(0))
    except CannotMakeError:
        raise CannotMakeError(
            f"{where}: a bar of {say(section.sizes_mm[0])} does not sit on a tube of {say(form.mm(0))}.",
            hint="The tube that it sits on is at least as large.",
        ) from None
    return WorkedEnd(removed_mm3=cut.mean_back_mm * section.area_mm2, reach_mm=cut.deeper_mm)


def round_within_mm(section: Section) -> float:
    """Diameter in mm of the largest circle inside a solid bar."""
    return min(section.sizes_mm)


def largest_round_mm(section: Section) -> float:
    """Diameter in mm of the smallest circle round a solid bar: a larger one would not be turned at all."""
    circles = section.outline().hull(section.origin())
    return max(hypot(a - x, b - y) + r + s for a, b, r in circles for x, y, s in circles)
