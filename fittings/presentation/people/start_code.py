"""The code of "Where to start": drawn for the visitor, and worded for the fitter who opens it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import segno
from django.conf import settings
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from core.web import display
from fittings.domain.fitting.need import GRADE_WORDS, USES
from fittings.domain.regions import REGIONS
from fittings.forms.people.start import NOW, WENT
from fittings.selectors.people.start import Worn
from fittings.services.people.start_code import OpenedCode, StartAnswers


@dataclass(frozen=True, slots=True)
class StartCode:
    """A code as the visitor gets it: a picture, and the text for where no camera is at hand."""

    picture: SafeString
    text: str


def start_code(code: str) -> StartCode:
    """Draw a code. It is not cached: the picture holds what somebody said of themselves."""
    address = f"{settings.SITE_URL.rstrip('/')}{reverse('fittings:from-start')}#{code}"
    svg = segno.make(address, error="l", micro=False).svg_inline(border=4, omitsize=True, lineclass=None, light="#fff")
    return StartCode(mark_safe(svg), code)  # noqa: S308  drawn by segno; the address in it becomes a picture only


def answers_of(cleaned: dict[str, Any]) -> StartAnswers:
    """What a visitor said on the page, for a code."""
    names = set(StartAnswers.__slots__) - {"size"}
    said = {name: cleaned[name] for name in names}
    size = cleaned["size"]
    return StartAnswers(**said, size="" if size is None else f"EU {size.eu.normalize():f}")


def said_lines(opened: OpenedCode, units: str, worn: Worn | None) -> list[tuple[str, str]]:
    """Say what a visitor said, a line for each answer."""
    said = opened.answers
    lines = [
        ("Answered on", display.day(opened.given_on)),
        ("Shoes for", USES.get(said.use, said.use)),
        ("Body mass", "" if said.body_mass_kg is None else display.measure(said.body_mass_kg, "body_mass", units)),
        (
            "Distance a week",
            "" if said.distance_km_week is None else display.measure(said.distance_km_week, "distance", units),
        ),
        ("Inward roll, by somebody who looked", "" if said.roll is None else GRADE_WORDS[said.roll]),
        ("Pain", _pain(said)),
        ("Shoe worn now", worn.shoe.title if worn and worn.shoe else said.worn),
        ("How it went", WENT.get(said.went, "")),
        ("Size", said.size),
    ]
    return [(name, text) for name, text in lines if text]


def _pain(said: StartAnswers) -> str:
    if not said.hurt:
        return ""
    return f"{REGIONS.get(said.hurt, said.hurt)}, {'now' if said.hurts == NOW else 'gone'}"


def fields_of(opened: OpenedCode, worn: Worn | None) -> list[tuple[str, str]]:
    """The fields of a fitting's page that follow from the answers: name and text.

    Signs that a visitor reports are not among them: the fitter looks, and asks for stop signs again.
    """
    said = opened.answers
    fields = [
        ("intake-use", said.use),
        ("intake-body_mass_kg", _number(said.body_mass_kg)),
        ("intake-distance_km_week", _number(said.distance_km_week)),
        ("intake-current_shoe", worn.shoe.slug if worn and worn.shoe else ""),
        ("history-0-region", said.hurt),
        ("history-0-state", said.hurts if said.hurt else ""),
    ]
    return [(name, text) for name, text in fields if text]


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.1f}".removesuffix(".0")
