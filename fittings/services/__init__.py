"""Writes of the fittings: recording one at once or by sections, trying on, choosing, follow-ups, reminders.

The service decides who may do what: each checks its actor against the store of the record, and views and the API only
translate requests into calls and refusals into answers.
"""

from __future__ import annotations

from fittings.services.fitting.choice import choice_record, try_on_record
from fittings.services.fitting.correction import Corrected, choice_correct
from fittings.services.fitting.draft import draft_discard, draft_finish, person_save, section_save
from fittings.services.fitting.fitting import RecordedFitting, fitting_record
from fittings.services.fitting.letter import ReplyGiven, letter_write, reply_record
from fittings.services.people.concern import concern_close, concern_signs_answer, concern_take_over
from fittings.services.people.contact import bounce_note, contact_correct, mail_allow, mail_stop, not_reached_note
from fittings.services.people.follow_up import contact_record, follow_up_amend, follow_up_answer
from fittings.services.people.links import links_revoke
from fittings.services.people.notice_ticks import notice_tick
from fittings.services.people.people import customer_move, customers_merge
from fittings.services.people.reminders import follow_up_reminders_send

__all__ = [
    "Corrected",
    "RecordedFitting",
    "ReplyGiven",
    "bounce_note",
    "choice_correct",
    "choice_record",
    "concern_close",
    "concern_signs_answer",
    "concern_take_over",
    "contact_correct",
    "contact_record",
    "customer_move",
    "customers_merge",
    "draft_discard",
    "draft_finish",
    "fitting_record",
    "follow_up_amend",
    "follow_up_answer",
    "follow_up_reminders_send",
    "letter_write",
    "links_revoke",
    "mail_allow",
    "mail_stop",
    "not_reached_note",
    "notice_tick",
    "person_save",
    "reply_record",
    "section_save",
    "try_on_record",
]
