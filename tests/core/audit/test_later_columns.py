"""A record whose last entry is older than one of its columns: whole with the column's default, and only with it."""

from __future__ import annotations

import json

import pytest

from catalogue.models import Scale, Shoe
from catalogue.services import brand_create, shoe_create
from core import audit
from core.audit import verification
from tests.shared import shared


@shared
def shoe(db):
    return shoe_create(actor=None, slug="fenrunner-2", brand=brand_create(actor=None, slug="fen", name="Fen"), name="F")


def record_without(subject, *columns):
    """Write the entry that a release without these columns would have written last."""
    state = {name: value for name, value in audit.snapshot(subject).items() if name not in columns}
    change = audit.Change("catalogue.shoe.created", subject, after=lambda: json.dumps(state))
    audit.record_many([change], actor=None)


def problems():
    return [fault.problem for fault in verification.faults()]


def test_column_added_later_has_its_default(shoe):
    record_without(shoe, "is_discontinued", "mass_g")
    assert problems() == []


@pytest.mark.parametrize("change", [{"is_discontinued": True}, {"mass_g": 250.0}])
def test_value_written_into_a_later_column_without_an_entry_is_found(shoe, change):
    record_without(shoe, "is_discontinued", "mass_g")
    Shoe.objects.filter(pk=shoe.pk).update(**change)
    (problem,) = problems()
    assert next(iter(change)) in problem


def test_column_that_only_an_earlier_entry_has_is_compared_with_that(shoe):
    Shoe.objects.filter(pk=shoe.pk).update(mass_g=250.0)
    audit.record(actor=None, action="catalogue.shoe.created", subject=shoe)
    # As by the program of the release before, which goes on during an upgrade and does not know the column.
    record_without(shoe, "mass_g")
    assert problems() == []
    Shoe.objects.filter(pk=shoe.pk).update(mass_g=300.0)
    (problem,) = problems()
    assert "mass_g" in problem


def test_column_that_was_removed_is_not_compared(shoe):
    state = audit.snapshot(shoe) | {"colour": "green"}
    audit.record_many([audit.Change("catalogue.shoe.created", shoe, after=lambda: json.dumps(state))], actor=None)
    assert problems() == []


def test_related_rows_added_later_are_expected_to_be_none(db):
    scale = Scale.objects.order_by("pk").first()
    record_without(scale, "bands")
    (problem,) = problems()
    assert "bands" in problem


def test_column_of_a_related_row_added_later_has_its_default(db):
    scale = Scale.objects.order_by("pk").first()
    state = audit.snapshot(scale)
    state["bands"] = [{name: value for name, value in row.items() if name != "lower"} for row in state["bands"]]
    audit.record_many([audit.Change("catalogue.shoe.created", scale, after=lambda: json.dumps(state))], actor=None)
    # All bands but the lowest have a lower limit, which no entry has now.
    (problem,) = problems()
    assert "bands" in problem
