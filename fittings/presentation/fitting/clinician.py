"""What a clinician asks for, in words, always named as the clinician's."""

from __future__ import annotations

from dataclasses import dataclass

from core.web import display
from fittings.domain.fitting.clinician_wishes import NO_WISH, wish_words
from fittings.models import ClinicianReply


@dataclass(frozen=True, slots=True)
class ReplyLines:
    """A clinician's wishes, named as the clinician's."""

    headline: str
    note: str
    recorded: str


def reply_headline(reply: ClinicianReply | None) -> str:
    """The wishes in one sentence, as the clinician's; "" where there is no reply."""
    if reply is None:
        return ""
    lead = "asks for no particular shoe" if reply.wishes == [NO_WISH] else f"asks for {wish_words(reply.wishes)}"
    return f"{reply.clinician} {lead}. This comes before our target and our list."


def reply_reason(reply: ClinicianReply | None) -> str:
    """A reason to begin with for a choice outside the target; "" where there is no reply."""
    return f"{reply.clinician} asks for {wish_words(reply.wishes)}" if reply else ""


def reply_lines(reply: ClinicianReply | None) -> ReplyLines | None:
    if reply is None:
        return None
    return ReplyLines(
        headline=reply_headline(reply),
        note=reply.note,
        recorded=f"Reply of {display.day(reply.received_on)}, recorded by {reply.recorded_by.display_name}",
    )


def insole_words(reply: ClinicianReply | None, removable: bool | None) -> str:
    """What a shoe's own insole means for the clinician's wish for another; "" where there is no such wish."""
    if reply is None or "insole" not in reply.wishes:
        return ""
    if removable is None:
        return "Check whether its insole comes out: the clinician asks for an insole"
    return (
        "Its insole comes out, as an insole from the clinician requires"
        if removable
        else "Its insole does not come out"
    )
