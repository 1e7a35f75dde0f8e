"""Columns built again after a change must be what a fresh reading gives."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from django.db import connection, transaction

from catalogue import selectors
from catalogue.models import Band, Brand, ScoreCard, Shoe, ShoesChange
from catalogue.selectors.public import changes
from catalogue.selectors.public.columns import ShoesInMemory
from catalogue.services import score_card_publish


@pytest.fixture
def held():
    return ShoesInMemory()


def same(one, other):
    for columns in (one, other):
        columns.feature("name")  # the alphabet is worked out at the first question
    for field in fields(one):
        mine, theirs = getattr(one, field.name), getattr(other, field.name)
        if field.name == "derived":
            mine, theirs = mine["alphabet"], theirs["alphabet"]
        if isinstance(mine, np.ndarray):
            np.testing.assert_array_equal(mine, theirs, err_msg=field.name)
        else:
            assert mine == theirs, field.name


def step_of(name, shoe, make):
    """Change something of the catalogue, the shoe's or of others."""
    of_shoe = Shoe.objects.filter(pk=shoe.pk)
    match name:
        case "new score":
            make["publish"](shoe, 77.0)
        case "new shoe before all":
            make["shoe"]("aa", name="Zither", brand="Aven")
        case "new shoe after all":
            make["shoe"]("zz", name="Aster", brand="Zorn")
        case "withdrawn":
            ScoreCard.objects.filter(shoe=shoe).update(is_current=False)
        case "shoe renamed":
            of_shoe.update(name="Zebu", slug="first")
        case "brand renamed":
            Brand.objects.filter(pk=shoe.brand_id).update(name="Aller")
        case "discontinued":
            of_shoe.update(is_discontinued=True, mass_g=None)
        case "unpublished shoe added":
            make["shoe"]("hidden", brand="Hush", published=False)
        case _:
            Shoe.objects.filter(pk=0).update(name="x")


STEPS = (
    "new score",
    "new shoe before all",
    "new shoe after all",
    "shoe renamed",
    "brand renamed",
    "discontinued",
    "withdrawn",
    "unpublished shoe added",
    "nothing",
)


@pytest.fixture
def make(make_shoe, publisher, scores_for):
    def publish(shoe, stability):
        score_card_publish(actor=publisher, shoe=shoe, scores=scores_for(stability), reason="again")

    return {"shoe": make_shoe, "publish": publish}


@pytest.mark.parametrize("step", STEPS)
def test_columns_after_a_change_are_what_a_fresh_reading_gives(held, make, step, django_assert_max_num_queries):
    shoes = [make["shoe"](slug, name=name) for slug, name in (("b", "Reed"), ("c", "alder"), ("d", "Sedge"))]
    held.at(selectors.revision())
    step_of(step, shoes[1], make)
    revision = selectors.revision()
    with django_assert_max_num_queries(2):
        again = held.at(revision)
    same(again, ShoesInMemory().at(revision))


def test_steps_one_after_the_other_end_where_a_fresh_reading_does(held, make):
    shoes = [make["shoe"](slug, name=slug) for slug in ("b", "c", "d")]
    held.at(selectors.revision())
    for step in STEPS:
        step_of(step, shoes[1], make)
        same(held.at(selectors.revision()), ShoesInMemory().at(selectors.revision()))


def test_the_first_shoe_of_all_is_put_into_nothing(held, make):
    assert held.at(selectors.revision()).count == 0
    make["shoe"]("b")
    same(held.at(selectors.revision()), ShoesInMemory().at(selectors.revision()))


def test_only_changed_shoes_are_named(make):
    first, second = make["shoe"]("b"), make["shoe"]("c")
    mark = selectors.revision().shoes
    assert changes.changed_since(mark) == []
    make["publish"](second, 61.0)
    assert changes.changed_since(mark) == [second.pk]
    Brand.objects.update(name="Other")
    assert changes.changed_since(mark) == [first.pk, second.pk]


def test_changes_of_a_band_or_of_too_many_shoes_are_read_again(make):
    make["shoe"]("b")
    mark = selectors.revision().shoes
    Band.objects.filter(order=1).update(name="Bending")
    assert changes.changed_since(mark) is None


def test_mark_of_another_history_is_read_again(make):
    """After a restore, or a transaction that did not come to pass, the same number means something else."""
    make["shoe"]("b")
    with transaction.atomic():
        make["shoe"]("c")
        mark = selectors.revision().shoes
        transaction.set_rollback(True)
    make["shoe"]("d")
    assert changes.changed_since(mark) is None


def test_a_thousand_changes_are_remembered(make):
    make["shoe"]("b")
    with connection.cursor() as cursor:
        cursor.execute("UPDATE catalogue_cataloguerevision SET shoes_number = shoes_number + 2000")
    make["shoe"]("c")
    newest = max(ShoesChange.objects.values_list("number", flat=True))
    assert min(ShoesChange.objects.values_list("number", flat=True)) > newest - 1000
