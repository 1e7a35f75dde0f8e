"""Validation with one query for all CHECK constraints finds the same as Django's own."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext

from catalogue.models import Brand, Shoe
from core.database.validation import validate, validate_constraints

pytestmark = pytest.mark.django_db

FAULTS: dict[str, dict[str, Any]] = {
    "nothing": {},
    "one constraint": {"smallest_size_eu": 44, "largest_size_eu": 40},
    "two constraints": {"smallest_size_eu": 44, "largest_size_eu": 40, "merged": True},
    "a column and a constraint": {"mass_g": 5000, "smallest_size_eu": 44, "largest_size_eu": 40},
    "a column": {"use": "swimming"},
    "a unique constraint": {"name": "Tarn", "version": "2"},
}


def shoe_with(fault: dict[str, Any]) -> Shoe:
    brand, _ = Brand.objects.get_or_create(slug="ostrava", name="Ostrava")
    shoe = Shoe.objects.create(brand=brand, slug="ostrava-fell", name="Fell")
    Shoe.objects.create(brand=brand, slug="ostrava-tarn-2", name="Tarn", version="2")
    for name, value in fault.items():
        setattr(shoe, "merged_into_id" if name == "merged" else name, shoe.pk if name == "merged" else value)
    return shoe


def problems(check: Any) -> dict[str, list[str]]:
    try:
        check()
    except ValidationError as problem:
        return problem.message_dict
    return {}


@pytest.mark.parametrize("name", FAULTS)
def test_the_problems_are_those_of_full_clean(name: str) -> None:
    shoe = shoe_with(FAULTS[name])
    wanted = problems(shoe.full_clean)
    assert bool(wanted) == (name != "nothing")
    assert problems(lambda: validate(shoe)) == wanted
    if "column" not in name:
        assert problems(lambda: validate_constraints(shoe)) == problems(shoe.validate_constraints)


def test_constraints_of_a_sound_record_are_asked_together() -> None:
    shoe = shoe_with({})
    with CaptureQueriesContext(
        connection,
    ) as one_by_one:
        shoe.validate_constraints()
    with CaptureQueriesContext(connection) as together:
        validate_constraints(shoe)
    # Four CHECK constraints, each in a savepoint of its own.
    assert len(one_by_one) - len(together) == 9
