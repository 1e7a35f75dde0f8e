"""Adding shoes from a file: all or none, duplicates named wherever they are, through the services and audited."""

from __future__ import annotations

from decimal import Decimal
from unittest.mock import Mock

import pytest

from catalogue.models import Brand, Shoe
from catalogue.services import Barcode, brand_create, shoe_create
from catalogue.services.csv_file import FileRejected
from catalogue.services.records import shoe_import
from catalogue.services.records.shoe_import import import_plan, shoes_import
from core.audit.verification import faults
from core.models import AuditEntry
from tests.shared import shared

GTIN, OTHER_GTIN = "4001234567891", "96385074"


def rows(*cells):
    return [(number, dict(row)) for number, row in enumerate(cells, start=2)]


def shoe(name="Lantern", **cells):
    return {"brand": "Corvane", "name": name} | cells


def problems_of(*cells):
    with pytest.raises(FileRejected) as caught:
        import_plan(rows(*cells))
    return [(problem.line, problem.column, problem.problem) for problem in caught.value.problems]


@shared
def held(db):
    brand = brand_create(actor=None, name="Corvane")
    return shoe_create(
        actor=None, brand=brand, name="Lantern", version="1", barcodes=[Barcode(GTIN, Decimal(42))], slug="lantern"
    )


def test_shoes_and_brands_are_added_and_audited(publisher, held):
    made = shoes_import(
        actor=publisher,
        rows=rows(
            shoe(version="2", slug="lantern-2", previous="lantern", mass_g="260", barcodes=f"43/D={OTHER_GTIN}"),
            shoe(version="3", previous="lantern-2", widths="D|2E"),
            {"brand": "Söhne", "name": "Tarn"},
            {"brand": "söhne", "name": "Tarn", "version": "2"},
        ),
    )
    assert [made_shoe.slug for made_shoe in made] == ["lantern-2", "corvane-lantern-3", "sohne-tarn", "sohne-tarn-2"]
    assert Brand.objects.filter(name="Söhne").count() == 1
    second, third = made[:2]
    assert (second.previous, third.previous, third.widths) == (held, second, ["D", "2E"])
    assert [(row.gtin, row.size_eu, row.width) for row in second.barcodes.all()] == [
        ("00000096385074", Decimal("43.0"), "D")
    ]
    entries = AuditEntry.objects.filter(actor=publisher).order_by("id").values_list("action", flat=True)
    assert list(entries) == ["catalogue.brand.created", *["catalogue.shoe.created"] * 4]
    assert not any(made_shoe.score_cards.exists() for made_shoe in made)
    assert list(faults()) == []


def test_looking_changes_nothing(held):
    entries = AuditEntry.objects.count()
    plan = import_plan(
        rows(shoe(version="2"), {"brand": "Hallin", "name": "Crest"}, {"brand": "HALLIN", "name": "Fell"})
    )
    assert plan.new_brands == ("Hallin",)
    assert (len(plan.lines), Shoe.objects.count(), Brand.objects.count()) == (3, 1, 1)
    assert AuditEntry.objects.count() == entries


def test_duplicates_in_the_catalogue_are_named(held):
    found = problems_of(
        shoe("LANTERN", version="1"),
        shoe("Lamp", slug="lantern"),
        shoe("Light", barcodes=f"42={GTIN}"),
        {"brand": "corvane", "name": "Lantern", "version": "1"},
    )
    assert [(row, column) for row, column, _ in found] == [
        (2, "name"),
        (3, "slug"),
        (4, "barcodes"),
        (5, "name"),
        (5, "name"),
    ]
    assert "Corvane Lantern 1 (lantern)" in found[0][2]
    assert "belongs to Corvane Lantern 1 (lantern)" in found[2][2]


def test_duplicates_within_the_file_are_named_with_the_earlier_row(db):
    found = problems_of(
        shoe(slug="one", barcodes=f"42={GTIN}"),
        shoe("lantern", slug="one", barcodes=f"43=0{GTIN}"),
        {"brand": "CORVANE", "name": "Lantern"},
    )
    assert found == [
        (3, "name", "Corvane lantern is in row 2 too. Remove one of them."),
        (3, "slug", "The address one is in row 2 too. Remove one of them."),
        (3, "barcodes", f"The barcode {GTIN} is in row 2 too. Remove one of them."),
        (4, "name", "CORVANE Lantern is in row 2 too. Remove one of them."),
    ]


def test_duplicate_of_a_row_with_another_mistake_is_named_too(db):
    found = problems_of(shoe(mass_g="heavy"), shoe())
    assert [(row, column) for row, column, _ in found] == [(2, "mass_g"), (3, "name")]


def test_every_mistake_of_every_row_is_named(held):
    found = problems_of(
        shoe("One", mass_g="5", stack_heel_mm="400"),
        shoe("Two", smallest_size_eu="44", largest_size_eu="40"),
        shoe("Three", list_prices="XAU 12"),
        shoe("Four", previous="no-such"),
        shoe("Five", previous="lantern"),
        shoe("Six", previous="lantern"),
        {"brand": "A\x01", "name": "Seven"},
        shoe("Eight", use="dancing"),
    )
    assert [(row, column) for row, column, _ in found] == [
        (2, "mass_g"),
        (2, "stack_heel_mm"),
        (3, "largest_size_eu"),
        (4, "list_prices"),
        (5, "previous"),
        (7, "previous"),
        (8, "brand"),
        (9, "use"),
    ]


def test_nothing_is_added_where_one_row_fails(publisher, held):
    entries = AuditEntry.objects.count()
    with pytest.raises(FileRejected):
        shoes_import(actor=publisher, rows=rows({"brand": "Hallin", "name": "Crest"}, shoe(version="1")))
    assert (Shoe.objects.count(), Brand.objects.count()) == (1, 1)
    assert AuditEntry.objects.count() == entries


def test_refusal_of_the_service_is_named_by_row_and_undoes_all(publisher, held, monkeypatch):
    """Two people add the same shoe: the second one's rows were in order when they were looked at."""
    plan = import_plan(rows({"brand": "Hallin", "name": "Crest"}, shoe(version="2")))
    shoe_create(actor=None, brand=held.brand, name="Lantern", version="2")
    monkeypatch.setattr(shoe_import, "import_plan", Mock(return_value=plan))
    with pytest.raises(FileRejected) as caught:
        shoes_import(actor=publisher, rows=[])
    (problem,) = caught.value.problems
    assert (problem.line, problem.column) == (3, "name")
    assert "already has a shoe of this name and version" in problem.problem
    assert not Brand.objects.filter(name="Hallin").exists()


def test_previous_version_must_be_above(db):
    found = problems_of(shoe("One", previous="two"), shoe("Two", slug="two"))
    assert [(row, column) for row, column, _ in found] == [(2, "previous")]
