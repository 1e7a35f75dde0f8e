"""What must be said beside a need or a recommendation, for pages, cards and the API."""

from __future__ import annotations

from collections.abc import Iterable

from core.web.cautions import cautions
from core.web.display import listed
from fittings.domain.need import Need
from fittings.domain.stop_signs import refer_words


def spoken(need: Need, stop_signs: Iterable[str], *, topic: str = "need", widths: str = "") -> tuple[str, ...]:
    """The cautions, the gravest first: the referral, what was not looked at or matched on, then those for all."""
    first = [words for words in (refer_words(stop_signs), left_out_words(need), widths) if words]
    return (*first, *cautions(topic))


def left_out_words(need: Need) -> str:
    """That observations are missing and the target is wider for it."""
    if not need.left_out:
        return ""
    names = listed([name.lower() for name in need.left_out])
    return f"Not looked at: {names}. The target is wider for it."
