"""The bar of a fitting's page: what must be in sight at every section."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from core.web import display
from fittings.domain.fitting.referral import Referral
from fittings.presentation.fitting.draft_states import TITLES
from fittings.presentation.fitting.fittings import RecommendationPage, ShoeLine

NEXT_SHOWN = 4
SHORT = {"person": "Customer", "try_ons": "Try-ons"}
BEFORE_ANSWER = 5


@dataclass(frozen=True, slots=True)
class Bar:
    """Target, best match and the state of the stop signs, with the class that marks it."""

    target: str
    best: str
    signs: str
    signs_mark: str


def bar_of(target: str, recommended: RecommendationPage | None, signs: Collection[str], *, asked: bool) -> Bar:
    """Word the bar; `asked` says whether the question about stop signs was answered."""
    best = recommended.shoes[0] if recommended and recommended.shoes else None
    return Bar(target, f"{best.title}, {best.probability}" if best else "", *_signs_words(signs, asked))


def _signs_words(signs: Collection[str], asked: bool) -> tuple[str, str]:
    if signs:
        return f"{display.count(len(signs), 'stop sign')}: clinician first", "state--stop"
    return ("No stop signs", "state--good") if asked else ("Stop signs not asked", "state--wait")


def referral_words(bar: Bar, referral: Referral) -> Bar:
    """Say in the bar that somebody is to see a clinician for another reason than a stop sign."""
    if not referral.refer or bar.signs_mark == "state--stop":
        return bar
    return Bar(bar.target, bar.best, "Clinician first", "state--stop")


def next_to_try(recommended: RecommendationPage | None, tried: Collection[str]) -> tuple[ShoeLine, ...]:
    """Return the best shoes that were not tried on yet."""
    shoes = recommended.shoes if recommended else ()
    return tuple(shoe for shoe in shoes if shoe.slug not in tried)[:NEXT_SHOWN]


def jumps() -> tuple[tuple[str, str], ...]:
    """Return the sections in the order of the page, each as its anchor and a short name."""
    names = [(name, SHORT.get(name, title)) for name, title in TITLES.items()]
    return (*names[:BEFORE_ANSWER], ("need", "Need"), ("match", "Match"), *names[BEFORE_ANSWER:])
