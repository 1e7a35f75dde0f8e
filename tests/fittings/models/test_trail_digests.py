"""A silent change of what the trail must not hold is found by its digest, and removing a person removes the salts."""

from __future__ import annotations

import json

import pytest
from django.db import connection, transaction

from core import audit
from core.audit.coverage import coverage
from core.audit.verification import chain_faults, record_faults
from core.models import AuditEntry, DigestSalt
from fittings.models import Choice, FootObservation, PainReport
from fittings.services.people import privacy
from tests.fittings.models.test_row_security import person_of_a  # noqa: F401  a fixture
from tests.labtests.audit.test_audit_every_column import another_value, as_administrator


def kinds_with_digest():
    return [kind for kind in audit.record_kinds() if kind.has_digest and kind.model._meta.app_label == "fittings"]


def faults():
    return [*chain_faults(), *(fault for kind in kinds_with_digest() for fault in record_faults(kind))]


def covered_columns(kind):
    """Every column that a digest covers, with its model."""
    for column in kind.model._meta.concrete_fields:
        if column.attname in kind.private:
            yield kind.model, column
    for part in kind.parts:
        relation = kind.model._meta.get_field(part.relation)
        model = relation.related_model
        for column in model._meta.concrete_fields:
            # A row that leads to another record is missing in its own: what a removed row is, below.
            is_content = not column.primary_key and column != relation.field
            if is_content and (not part.columns or column.attname in part.columns):
                yield model, column


class _UndoError(Exception):
    """Rolls a change back."""


def is_found(cursor, kind, model, column):
    table = f'"{model._meta.db_table}"'
    value = another_value(column, str(column.db_type(connection)).partition("(")[0])
    try:
        with transaction.atomic():
            cursor.execute(f'UPDATE {table} AS row SET "{column.column}" = {value}')
            assert cursor.rowcount, f"make a row of {table} in person_of_a"
            found = any(True for _ in record_faults(kind))
            raise _UndoError
    except _UndoError:
        return found


def test_every_column_that_the_trail_leaves_out_is_covered(person_of_a):  # noqa: F811
    assert faults() == []
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    tables = {model for kind in kinds_with_digest() for model, _ in covered_columns(kind)}
    with as_administrator(*tables) as cursor:
        missed = [
            f"{model._meta.label_lower}.{column.attname}"
            for kind in kinds_with_digest()
            for model, column in covered_columns(kind)
            if not is_found(cursor, kind, model, column)
        ]
    assert missed == []


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda: FootObservation.objects.filter(foot="left").update(pronation=0), "fitting"),
        (lambda: FootObservation.objects.filter(foot="left").delete(), "fitting"),
        (lambda: PainReport.objects.update(score=9), "follow up"),
        (lambda: Choice.objects.filter(replaces__isnull=True).update(stability=12.5), "choice"),
        (lambda: DigestSalt.objects.filter(object_type="fittings.followup").delete(), "salt"),
    ],
)
def test_change_by_the_application_role_is_found(person_of_a, change, words):  # noqa: F811
    change()
    assert any(words in str(fault) for fault in faults())


def test_removal_takes_the_salts_along(person_of_a, cast):  # noqa: F811
    customer = person_of_a.customer
    entries = AuditEntry.objects.filter(object_type="fittings.fitting", object_id=str(person_of_a.pk))
    digests = [entry.content["digest"] for entry in entries.order_by("id")]
    # Each entry has a salt of its own, so that nothing can be seen from equal digests.
    assert len(set(digests)) == len(digests) > 1
    privacy.customer_erase(actor=cast.manager_a, customer=customer, reason="in-person")
    left = DigestSalt.objects.filter(object_type__startswith="fittings.").exclude(object_type="fittings.fittingrequest")
    assert not left.exists()
    assert faults() == []


def test_salt_that_outlives_its_record_is_found(person_of_a):  # noqa: F811
    DigestSalt.objects.create(object_type="fittings.fitting", object_id="987654", salt=b"x" * 32)
    assert [str(fault) for fault in faults()] == ["fitting 987654: is gone, but the salt of its digest is still there"]


def test_entry_from_before_the_digests_is_no_fault_but_counted(person_of_a):  # noqa: F811
    choice = Choice.objects.order_by("pk").first()
    label = Choice._meta.label_lower
    with as_administrator() as cursor:
        cursor.execute(
            "UPDATE core_auditentry SET payload = (payload::jsonb - 'digest')::text"
            " WHERE object_type = %s AND object_id = %s",
            [label, str(choice.pk)],
        )
    DigestSalt.objects.filter(object_type=label, object_id=str(choice.pk)).delete()
    kind = audit.kind_of(Choice)
    Choice.objects.filter(pk=choice.pk).update(comfort=1)
    assert list(record_faults(kind)) == []
    assert coverage().without_digest == {"choices": 1}


def test_entry_that_leaves_the_digest_out_is_found(person_of_a):  # noqa: F811
    state = json.dumps(audit.snapshot(person_of_a))
    audit.record_many(
        [audit.Change("fittings.fitting.recorded", person_of_a, after=lambda: state)], actor=person_of_a.fitter
    )
    assert any("it has no digest" in str(fault) for fault in chain_faults())


def test_trail_has_neither_shoe_nor_score_of_a_choice(person_of_a):  # noqa: F811
    for entry in AuditEntry.objects.filter(object_type__in=["fittings.choice", "fittings.tryon"]):
        assert not {"shoe_id", "score_card_id", "stability", "size_eu"} & entry.content["after"].keys()
