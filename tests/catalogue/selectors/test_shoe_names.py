"""A shoe is found by the words of its name, and an address is left as it is."""

from __future__ import annotations

import pytest

from catalogue.selectors.records.shoe_names import address_of, name_at, names_of_shoes

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def shoes(make_shoe):
    make_shoe("nordvik-tarn-4", brand="Nordvik", name="Tarn", version="4")
    make_shoe("nordvik-tarn-40", brand="Nordvik", name="Tarn", version="40")


@pytest.mark.parametrize("text", ["Nordvik Tarn 4", "nordvik tarn 4", "nordvik-tarn-4"])
def test_whole_name_or_address_means_one_shoe(text):
    assert address_of(text) == "nordvik-tarn-4"


def test_some_words_do_where_one_shoe_has_them():
    assert address_of("40 tarn") == "nordvik-tarn-40"


def test_address_of_no_shoe_is_left_to_the_service():
    assert address_of("no-such-shoe") == "no-such-shoe"


@pytest.mark.parametrize(
    ("text", "words"), [("Nordvik Tarn", "Nordvik Tarn 4, Nordvik Tarn 40. Write the whole name"), ("Tam 4", "No shoe")]
)
def test_several_shoes_or_none_are_explained(text, words):
    with pytest.raises(ValueError, match=words):
        address_of(text)


def test_names_are_offered_and_shown(django_assert_num_queries):
    with django_assert_num_queries(1):
        assert names_of_shoes() == ["Nordvik Tarn 4", "Nordvik Tarn 40"]
    assert (name_at("nordvik-tarn-4"), name_at("no-such-shoe")) == ("Nordvik Tarn 4", "")
