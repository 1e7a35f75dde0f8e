"""Writes of the fittings: recording one, trying on, choosing, answering a follow-up, sending reminders."""

from __future__ import annotations

from fittings.services.choice import choice_record, try_on_record
from fittings.services.fitting import RecordedFitting, fitting_record
from fittings.services.follow_up import follow_up_answer, follow_up_reminders_send

__all__ = [
    "RecordedFitting",
    "choice_record",
    "fitting_record",
    "follow_up_answer",
    "follow_up_reminders_send",
    "try_on_record",
]
