"""What the trail, which nobody can change, may hold of a person as it is: keys, moments and what is listed here."""

from __future__ import annotations

from typing import Any

from django.db import models

from catalogue.models import ScoreCard, Shoe
from core.audit.records import RecordKind, record_kinds
from core.gate.row_scope import protected

# Neither about health, nor a name, nor free text. A new column that is one of these is `private` in audit_words.py.
IN_CLEAR = {
    "catalogue.reservation": {"outcome", "quantity", "shoe_id", "size_eu", "until", "width"},
    "fittings.choice": {"pair"},
    "fittings.clinicianreply": {"received_on"},
    "fittings.answerconcern": {"due_on"},
    "fittings.consent": {"text_version"},
    "fittings.contacttry": {"kind"},
    "fittings.correction": {"kind", "restocked"},
    "fittings.draft": {"made_customer"},
    "fittings.fitting": {"kept", "submission"},
    "fittings.fittingrequest": {"consent_version", "state", "wish_day"},
    "fittings.followup": {"due_on", "pair", "weeks"},
    "fittings.noticetick": {"is_informed"},
    "fittings.secondobservation": {"foot", "gait", "worn"},
    "fittings.supersededlook": {"number"},
}


def is_key_or_moment(column: models.Field[Any, Any]) -> bool:
    """Which shoe somebody wears says something of them; other keys, and when something was recorded, do not."""
    if isinstance(column, models.ForeignKey):
        return column.related_model not in (Shoe, ScoreCard)
    return column.primary_key or isinstance(column, models.DateTimeField)


def in_clear(kind: RecordKind) -> set[str]:
    columns = [column for column in kind.model._meta.concrete_fields if column.attname not in kind.left_out]
    return {column.attname for column in columns if not is_key_or_moment(column)}


def test_a_new_column_about_people_is_private_or_listed_here() -> None:
    about_people = {item.model for item in protected()}
    found = {kind.model._meta.label_lower: in_clear(kind) for kind in record_kinds() if kind.model in about_people}
    assert {label: columns for label, columns in found.items() if columns} == IN_CLEAR
