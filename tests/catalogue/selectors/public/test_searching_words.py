from __future__ import annotations

import pytest
from django.db import connection
from hypothesis import given
from hypothesis import strategies as st

from catalogue import selectors
from catalogue.domain.search_words import search_query, words_of
from catalogue.models import Brand, Shoe
from tests.shared import shared


@pytest.mark.parametrize(
    ("text", "query"),
    [
        ("", ""),
        (" % -- ", ""),
        ("Corv", "'corv':*"),
        ("corvane lan", "'corvane':* & 'lan':*"),
        ("lantern 2", "'lantern':* & '2':*"),
        ("2 lantern", "'2' & 'lantern':*"),
        ("O'Hara & co", "'o':* & 'hara':* & 'co':*"),
    ],
)
def test_every_word_is_wanted_and_may_be_a_beginning(text, query):
    assert search_query(text) == query


@given(st.text(max_size=40))
def test_words_hold_nothing_that_a_query_is_made_of(text):
    assert all(word.isalnum() or not set(word) & set("'&|!:*()<>\\ ") for word in words_of(text))


@shared
def shoes(make_shoe):
    make_shoe("lantern-2", name="Lantern", version="2")
    make_shoe("lantern-21", name="Lantern", version="21")
    make_shoe("wide-step", brand="Olmar", name="Wide-Step/GT", version="v3.1")
    Brand.objects.filter(name="Olmar").update(name="Ölmar")
    make_shoe("hidden", name="Lantern hidden", published=False)


def found(words):
    columns = selectors.columns_at(selectors.revision())
    return {columns.slugs[row] for row in columns.among(selectors.shoe_ids_named(words)).nonzero()[0]}


@pytest.mark.usefixtures("shoes")
@pytest.mark.parametrize(
    ("words", "slugs"),
    [
        ("lant", {"lantern-2", "lantern-21"}),
        ("lantern 2", {"lantern-2", "lantern-21"}),
        ("2 lantern", {"lantern-2"}),
        ("ÖLMAR", {"wide-step"}),
        ("step gt", {"wide-step"}),
        ("wide-step/gt v3", {"wide-step"}),
        ("wide-step/gt 3", set()),
        ("v3.1 olm", set()),
        ("antern", set()),
        ("'", set()),
    ],
)
def test_search_finds_by_brand_name_and_version(words, slugs):
    assert found(words) == slugs


@pytest.mark.usefixtures("shoes")
def test_search_follows_changes_past_the_services():
    Brand.objects.filter(name="Ölmar").update(name="Nordle")
    Shoe.objects.filter(slug="lantern-2").update(name="Beacon")
    assert found("nordle") == {"wide-step"}
    assert found("beacon") == {"lantern-2"}
    assert found("ölmar") == set()


@pytest.mark.usefixtures("shoes")
def test_deleted_shoe_leaves_no_words_behind():
    Shoe.objects.get(slug="hidden").delete()
    assert selectors.shoe_ids_named("hidden") == []


@pytest.mark.usefixtures("shoes")
def test_search_and_sizes_are_answered_by_index():
    def plan(sql, values):
        with connection.cursor() as cursor:
            cursor.execute("SET LOCAL enable_seqscan = off")
            cursor.execute(f"EXPLAIN {sql}", values)
            return " ".join(line for (line,) in cursor.fetchall())

    document = "SELECT shoe_id FROM catalogue_shoesearch WHERE document @@ to_tsquery('simple', %s)"
    assert "shoe_search_document" in plan(document, ["'lan':*"])
    stock = "SELECT DISTINCT shoe_id FROM catalogue_stockitem WHERE size_eu = %s AND quantity > 0"
    assert "Index Cond: (size_eu" in plan(stock, [42])
