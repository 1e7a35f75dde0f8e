"""What is to be said of each shoe tried on: against the shoe worn now, and with the own insole."""

from __future__ import annotations

from dataclasses import dataclass

from fittings.domain.shoes.insoles import insole_warning
from fittings.forms.fitting.draft_page import DraftPage
from fittings.presentation.fitting.changeover import Comparison, comparison
from fittings.selectors.fitting.worn import WornShoe


@dataclass(frozen=True, slots=True)
class TriedLine:
    """One shoe tried on, with the comparison and the warning where there is one."""

    title: str
    insole: str
    comparison: Comparison | None


def tried_lines(page: DraftPage, worn: WornShoe | None, units: str) -> tuple[TriedLine, ...]:
    """Word what is to be said of the shoes of a page, each once, in the order of the rows."""
    insole = page.intake.intake.cleaned_data.get("insole") or ""
    slugs = dict.fromkeys(form.cleaned_data["slug"] for form in page.try_ons.filled().values())
    lines = []
    for slug in slugs:
        card = page.try_ons.cards[slug]
        compared = comparison(worn.shoe, worn.card, card.shoe, card, units) if worn else None
        warning = insole_warning(insole, card.shoe.removable_insole)
        if compared or warning:
            lines.append(TriedLine(f"{card.shoe.brand.name} {card.shoe.title}", warning, compared))
    return tuple(lines)
