"""What was agreed, said and chosen at the last fitting of a customer, for the next one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from core.web import display
from core.web.display import size
from fittings.domain.people.consent import CONSENT_VERSION
from fittings.forms.fitting.carry_over import Offer, offers
from fittings.models import Consent, Customer, Fitting
from fittings.presentation.fitting.fittings import intake_facts, with_width
from fittings.selectors.people.lists import worn_choice

SHOWN = ("Shoes for", "Size", "Body mass", "Pain now", "Complaints", "Stop signs")
"""What is shown of the intake. None of it is asked less for having been asked then."""


@dataclass(frozen=True, slots=True)
class LastTime:
    """What was at the last fitting of somebody, and what of it one touch takes over."""

    name: str
    facts: tuple[tuple[str, str], ...]
    offers: tuple[Offer, ...] = ()


def last_time(customer: Customer, fitting: Fitting | None, consents: Sequence[Consent], units: str) -> LastTime:
    agreed = [
        (f"Agreed to wording {item.text_version}{_wording_words(item)}", display.day(item.given_at))
        for item in consents
    ]
    if fitting is None:
        return LastTime(customer.name, tuple(agreed))
    facts = dict(intake_facts(fitting, units))
    chosen = worn_choice(fitting)
    shoe = (
        f"{chosen.shoe.brand.name} {chosen.shoe.title}, {with_width(size(chosen.size_eu), chosen)}"
        if chosen
        else display.MISSING
    )
    said = [(name, facts[name]) for name in SHOWN]
    measured = ("Feet", _feet_words(fitting, units))
    return LastTime(
        customer.name,
        (("Fitted", display.day(fitting.at)), *agreed, *said, measured, ("Shoe chosen", shoe)),
        offers(fitting, units, under_age=any(item.guardian for item in consents)),
    )


def _wording_words(consent: Consent) -> str:
    return "" if consent.text_version == CONSENT_VERSION else " (an older one: ask again)"


def _feet_words(fitting: Fitting, units: str) -> str:
    said = {
        foot.foot: [display.measure(value, "length", units) for value in (foot.length_mm, foot.width_mm) if value]
        for foot in sorted(fitting.feet.all(), key=lambda item: item.foot)
    }
    return "; ".join(f"{foot} {' × '.join(sizes)}" for foot, sizes in said.items() if sizes) or display.MISSING
