"""Specimens in words, and their labels."""

from __future__ import annotations

from dataclasses import dataclass

import segno
from django.conf import settings
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from core.web import display
from labtests.models import ConditioningEntry, Specimen, SpecimenKind
from labtests.presentation.bench.bench_day import conditioning_place
from labtests.selectors.bench.retests import WHY, Retest


@dataclass(frozen=True, slots=True)
class Label:
    """A label to print: the code as a picture and in words."""

    code: str
    shoe: str
    what: str
    picture: SafeString


@dataclass(frozen=True, slots=True)
class SpecimenLine:
    """A specimen in a list."""

    code: str
    shoe: str
    what: str
    place: str
    tests: int
    tested_on: str
    state: str
    css: str


def label_of(specimen: Specimen, practice: str) -> Label:
    path = reverse("labtests:label-open", args=[practice, specimen.code])
    picture = segno.make(f"{settings.SITE_URL.rstrip('/')}{path}", error="m", micro=False).svg_inline(
        border=4, omitsize=True, svgclass="lab-label__code", lineclass=None, light="#fff"
    )
    shoe = "Check shoe" if specimen.kind == SpecimenKind.CHECK else _shoe(specimen)
    # Drawn by segno; the address in it becomes a picture only.
    return Label(specimen.code, shoe, _what(specimen), mark_safe(picture))  # noqa: S308


def _shoe(specimen: Specimen) -> str:
    return f"{specimen.shoe.brand.name} {specimen.shoe.title}"


def _what(specimen: Specimen) -> str:
    return f"{specimen.side}, {display.size(specimen.size_eu)}"


def place_of(specimen: Specimen) -> str:
    """Where a specimen of `specimen_list` is now: in a chamber, at its place, or nowhere that was noted."""
    open_stays: list[ConditioningEntry] = vars(specimen)["open_stays"]
    if specimen.disposed_on:
        return display.MISSING
    return conditioning_place(open_stays[0]) if open_stays else specimen.place or "not noted"


def specimen_line(specimen: Specimen) -> SpecimenLine:
    state, css = _state_of(specimen)
    return SpecimenLine(
        code=specimen.code,
        shoe=_shoe(specimen),
        what=_what(specimen),
        place=place_of(specimen),
        tests=vars(specimen)["n_tests"],
        tested_on=display.day(vars(specimen)["tested_at"]),
        state=state,
        css=css,
    )


def _state_of(specimen: Specimen) -> tuple[str, str]:
    if specimen.disposed_on:
        return "disposed of", "state--off"
    return ("check shoe", "state--wait") if specimen.kind == SpecimenKind.CHECK else ("in the lab", "state--good")


def specimen_facts(specimen: Specimen) -> list[tuple[str, str]]:
    facts = [
        ("Kind", str(specimen.get_kind_display())),
        ("Shoe", _shoe(specimen)),
        ("Side and size", _what(specimen)),
        ("Place", place_of(specimen)),
    ]
    receipt = specimen.receipt
    if receipt is None:
        facts.append(("Received", "not noted: a bench file or the conditioning log named it first"))
    else:
        facts.append(("Received", f"{display.day(receipt.received_on)}, by {receipt.received_by.display_name}"))
        facts.append(("Source", ", ".join(filter(None, (receipt.get_source_display(), receipt.supplier)))))
        if receipt.batch:
            facts.append(("Batch", receipt.batch))
        if receipt.price is not None:
            facts.append(("Price of the pair", f"{receipt.price}{display.NO_BREAK}{receipt.currency}"))
    if specimen.disposed_on and specimen.disposed_by:
        facts.append(("Disposed of", f"{display.day(specimen.disposed_on)}, by {specimen.disposed_by.display_name}"))
        facts.append(("Why", specimen.disposed_because))
    return facts


@dataclass(frozen=True, slots=True)
class RetestLine:
    """A shoe that is due to be tested again."""

    slug: str
    shoe: str
    tested_on: str
    score: ScoreShown
    band: str
    reasons: tuple[str, ...]
    samples: int
    state: str
    css: str


@dataclass(frozen=True, slots=True)
class ScoreShown:
    """A score as the component shows it."""

    value: float
    expanded_uncertainty: float | None
    estimated: bool = False


def retest_line(one: Retest) -> RetestLine:
    card = one.card
    state, css = ("under way", "state--wait") if one.is_under_way else ("due", "state--stop")
    return RetestLine(
        slug=card.shoe.slug,
        shoe=f"{card.shoe.brand.name} {card.shoe.title}",
        tested_on=display.day(card.tested_on),
        score=ScoreShown(card.stability, one.expanded_uncertainty),
        band=card.band.name,
        reasons=tuple(_why(one, reason) for reason in one.reasons),
        samples=one.samples,
        state=state,
        css=css,
    )


def _why(one: Retest, reason: str) -> str:
    """A reason in words, with the number or the text behind it."""
    if reason == "season":
        return f"made for season {one.card.shoe.season}, tested before"
    if reason == "faults":
        return f"{display.count(one.faults, 'faulty pair')} reported by stores since the last test"
    return WHY[reason]
