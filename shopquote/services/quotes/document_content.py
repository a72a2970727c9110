"""What a quote copies from the shop, the customer and the job, so that it can always be printed as it was."""

import base64
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING

from shopquote.calc.bar.holes import drilled
from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.bar.shape_words import Scroll, Volute
from shopquote.calc.bar.shapes import parse_shape
from shopquote.calc.job import JobSpec, PartSpec, WeldSpec
from shopquote.calc.pricing.document import PartPicture, SetContent, Wording
from shopquote.calc.pricing.terms import (
    EXCLUDED_WHEN_FITTED,
    TERMS_WHEN_TAKEN,
    USUAL_DELIVERY,
    USUAL_TERMS,
    USUALLY_EXCLUDED,
)
from shopquote.calc.takeoff.cut_plan import Material
from shopquote.calc.units import Length, Unit, show_length
from shopquote.errors import InputError
from shopquote.services.shop.logo import logo_bytes
from shopquote.services.shop.values import without_idle_zeros

if TYPE_CHECKING:
    from shopquote.records.shop import Shop


def wording(shop: "Shop", spec: JobSpec, locale: str) -> Wording:
    """The shop's words on a quote and the bytes of its logo.

    Where the work is delivered or fitted on site, usual words that exclude it are replaced. `locale` is the
    paper's: the customer's, or else the shop's.
    """
    taken, fitted = spec.site is not None, _is_fitted(spec)
    return Wording(
        lead_time=shop.lead_time,
        terms=TERMS_WHEN_TAKEN if taken and shop.terms == USUAL_TERMS else shop.terms,
        deposit_pct=without_idle_zeros(shop.deposit_pct),
        included=shop.included,
        excluded=EXCLUDED_WHEN_FITTED if fitted and shop.excluded == USUALLY_EXCLUDED else shop.excluded,
        delivery_term="" if taken and shop.delivery_term == USUAL_DELIVERY else shop.delivery_term,
        locale=locale,
        paper=shop.paper,
        logo=_logo(shop.logo_path),
        invented=shop.invented,
    )


def _logo(path_text: str) -> str:
    """The logo's bytes as base64; empty if it cannot be read."""
    # A missing picture must not stop a quote; `logo_fault` reports it among the notes.
    with suppress(InputError):
        return base64.b64encode(logo_bytes(path_text)).decode("ascii")
    return ""


def part_pictures(spec: JobSpec, answers: Mapping[str, PartAnswer]) -> tuple[PartPicture, ...]:
    """The data of each part's picture on the customer's paper, in the order of the job file."""
    pictures = []
    for part in spec.parts:
        answer = answers[part.mark]
        # Micrometres: more digits would make the sealed text longer and differ between processors.
        line = tuple((round(x, 3), round(y, 3), round(z, 3)) for x, y, z in answer.centreline_mm)
        # A straight piece has one size of its own, the length: its bar gives the other two.
        straight = all(abs(y) + abs(z) < 0.05 for _, y, z in line)
        pictures.append(
            PartPicture(
                mark=part.mark,
                name=part.name,
                per_set=part.per_set,
                bar=part.bar,
                grade=answer.grade_in_full,
                size=_size_words(answer.envelope_mm[: 1 if straight else 3], spec.units),
                depth_mm=round(answer.section.depth_mm(part.bend_axis), 3),
                line_mm=line,
                holes=", ".join(drilled(part.holes)),
                turned=dict(part.worked_ends).get("turned", 0),
                threaded=dict(part.worked_ends).get("threaded", 0),
                twists=answer.twists,
                spirals=tuple(_spirals(part, spec.units)),
            )
        )
    return tuple(pictures)


def _spirals(part: PartSpec, unit: Unit) -> Iterator[tuple[str, str, str]]:
    for word in parse_shape(part.shape, unit) if part.shape is not None else ():
        if isinstance(word, Scroll | Volute):
            radii = (show_length(size.length, unit, exact=True) for size in (word.start, word.finish))
            yield type(word).__name__.lower(), "R " + " – ".join(radii), word.of


def set_content(spec: JobSpec) -> SetContent:
    """What belongs to one set besides its parts."""
    finish = spec.finish if spec.finish is not None and spec.finish.kind != "none" else None
    return SetContent(
        welds=tuple(_weld_words(weld) for weld in spec.welds),
        bought=tuple((item.name, item.per_set) for item in spec.bought),
        outside=tuple(work.name for work in spec.outside),
        finish=finish.kind if finish else "",
        coats=finish.coats if finish else 0,
        fitted=_is_fitted(spec),
    )


def _is_fitted(spec: JobSpec) -> bool:
    return spec.site is not None and spec.site.hours > 0


def _weld_words(weld: WeldSpec) -> str:
    return f"{weld.count} x {weld.kind} {weld.leg.text} x {weld.length.text} {weld.process}"


def _size_words(envelope_mm: Sequence[float], unit: Unit) -> str:
    """Overall size with the unit once: 250 x 300 x 40 mm."""
    sizes = [show_length(Length.from_mm(size), unit) for size in envelope_mm if size >= 0.05]
    return " x ".join(size.removesuffix(f" {unit}") for size in sizes) + f" {unit}"


def material_to_keep(material: Material) -> Material:
    """A material without its proof, search time, work and sources of its grade, which a stored quote need not
    hold.
    """
    return replace(
        material,
        grade=replace(material.grade, sources={}),
        # Not kept: long, and different in each run, so that the same quote would never compare equal.
        plan=replace(material.plan, proof=None, seconds=0.0, work=0),
    )
