"""Who is left out of the outcomes, and why, in words."""

from __future__ import annotations

from dataclasses import dataclass

from fittings.models import LeftOut
from fittings.presentation.outcomes.outcomes import count_words
from fittings.selectors.outcomes.outcome_groups import Group


@dataclass(frozen=True, slots=True)
class LeftOutLine:
    """How many people, or follow-ups, and why."""

    count: str
    why: str


def left_out_lines(total: Group) -> tuple[LeftOutLine, ...]:
    """Everybody and everything that the curves or the rates of a page leave out; nothing where nobody is."""
    reasons = zip(LeftOut.labels, total.left_out, strict=True)
    people = [LeftOutLine(_people(count), f"{why}: not at risk") for why, count in reasons if count != 0]
    if total.without_km != 0 and total.back is not None:
        why = "at risk did not say how far they went at every follow-up: not in the distance and the rate"
        people.append(LeftOutLine(_people(total.without_km), why))
    if total.visits_open != 0:
        some = "A hidden number" if total.visits_open is None else count_words(total.visits_open)
        counts = f"{some} of {'' if total.visits is None else f'{count_words(total.visits)} '}follow-ups"
        why = "don’t say whether each complaint was there: not answered, and never counted as free of it"
        people.append(LeftOutLine(counts, why))
    return tuple(people)


def _people(count: int | None) -> str:
    if count is None:
        return "A hidden number of people"
    return f"{count_words(count)} {'person' if count == 1 else 'people'}"
