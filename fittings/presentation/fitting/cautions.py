"""What must be said beside a need or a recommendation, for pages, cards and the API."""

from __future__ import annotations

from collections.abc import Sequence

from core.web.cautions import cautions
from core.web.display import listed
from fittings.domain.fitting.need import Need
from fittings.domain.fitting.referral import Referral


def spoken(need: Need, referral: Referral, *, topic: str = "need", notes: Sequence[str] = ()) -> tuple[str, ...]:
    """The cautions, the gravest first: the referral, notes, what was not checked, then those for all."""
    more = [words for words in (*notes, left_out_words(need)) if words]
    return (*referral.advice, *more, *cautions(topic))


def left_out_words(need: Need) -> str:
    """That observations are missing and the target is wider for it."""
    if not need.left_out:
        return ""
    names = listed([name.lower() for name in need.left_out])
    return f"Not checked: {names}. The target is wider to allow for that."
