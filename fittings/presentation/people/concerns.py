"""Answers that need attention, in words."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from core.web import display
from fittings.models import AnswerConcern
from fittings.selectors.people.concerns import signs_asked


@dataclass(frozen=True, slots=True)
class ConcernLine:
    """One answer in a list."""

    pk: int
    who: str
    store: str
    why: str
    owner: str
    due: str
    state: str
    state_class: str


def concern_line(concern: AnswerConcern, today: dt.date) -> ConcernLine:
    fitting = concern.follow_up.fitting
    state, state_class = _state(concern, today)
    return ConcernLine(
        pk=concern.pk,
        who=fitting.customer.name if fitting.customer else "",
        store=fitting.store.name,
        why=" ".join(concern.advice[:-1]),
        owner=concern.owner.display_name,
        due=display.day(concern.due_on),
        state=state,
        state_class=state_class,
    )


def _state(concern: AnswerConcern, today: dt.date) -> tuple[str, str]:
    if concern.closed_at is not None:
        return concern.get_outcome_display(), "state--off"
    if concern.stop_signs:
        return "stop sign", "state--stop"
    return ("overdue", "state--stop") if concern.due_on < today else ("open", "state--wait")


def sign_words(concern: AnswerConcern) -> str:
    """What the customer answered to the stop signs."""
    if concern.stop_signs_asked_at is None:
        return "not answered yet: ask on the telephone"
    signs = signs_asked(concern)
    return "; ".join(signs.get(code, code) for code in concern.stop_signs) or "none of them"
