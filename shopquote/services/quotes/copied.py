"""What a quote copies of the shop, the customer and the job, so that it prints the same for ever."""

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
    """The shop's words on every quote, with the bytes of its logo; what is taken or fitted is not excluded.

    `locale`: of the paper, the customer's or the shop's.

    Raises:
        InputError: the logo is not there, too large or not a picture.
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
    """The logo's bytes as base64, kept with the quote; a logo that cannot be read stops no quote."""
    # The quote goes out without a picture rather than not at all; `logo_fault` tells of it among the notes.
    with suppress(InputError):
        return base64.b64encode(logo_bytes(path_text)).decode("ascii")
    return ""


def part_pictures(spec: JobSpec, answers: Mapping[str, PartAnswer]) -> tuple[PartPicture, ...]:
    """Each part as the customer sees it, in the order of the job file."""
    pictures = []
    for part in spec.parts:
        answer = answers[part.mark]
        line = tuple((round(x, 3), round(y, 3), round(z, 3)) for x, y, z in answer.centreline_mm)
        # Of a straight piece its bar says the rest.
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
    """What comes with one set beside its parts."""
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
    """Sizes over all with the unit once: 250 x 300 x 40 mm."""
    sizes = [show_length(Length.from_mm(size), unit) for size in envelope_mm if size >= 0.05]
    return " x ".join(size.removesuffix(f" {unit}") for size in sizes) + f" {unit}"


def material_to_keep(material: Material) -> Material:
    """A material without its proof, its search time and the sources of its grade."""
    return replace(
        material,
        grade=replace(material.grade, sources={}),
        plan=replace(material.plan, proof=None, seconds=0.0, work=0),
    )
