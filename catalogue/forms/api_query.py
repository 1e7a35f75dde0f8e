"""The query keys of the list of shoes in the API: the same filters as the page of the list, each with its range."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.core.validators import RegexValidator
from django.http import QueryDict
from rest_framework import serializers

from catalogue.domain.filters import ORDERS, WEARERS, ShoeFilter
from catalogue.domain.sizes import HOW_TO_WRITE, READER_SYSTEMS, SIZE_EXAMPLES, SIZE_PATTERN, SIZE_RANGES
from catalogue.forms.query import (
    MEASURE_BOUNDS,
    PRICE_BOUND,
    SCORE_BOUND,
    TEXT_MOST,
    WEIGHED,
    Choices,
    shoe_filter,
)
from catalogue.models import USES
from core.web.api import PageQuery, Query, QueryNumber, query_text


def _score(end: str) -> QueryNumber:
    return QueryNumber(
        min_value=-SCORE_BOUND,
        max_value=SCORE_BOUND,
        required=False,
        help_text=f"Points, {end}. The smallest may not be above the largest.",
    )


def _measure(name: str, help_text: str) -> QueryNumber:
    low, high = MEASURE_BOUNDS[name]
    return QueryNumber(min_value=low, max_value=high, required=False, help_text=help_text)


def _drop(end: str) -> QueryNumber:
    return _measure("drop", f"mm, {end}. The smallest may not be above the largest.")


def _sizes() -> serializers.ChoiceField:
    return serializers.ChoiceField(
        choices=list(READER_SYSTEMS),
        required=False,
        help_text="The system in which `shown` has the sizes in stock; all but eu are approximate.",
    )


class SizesQuery(Query):
    """How the sizes of one shoe are shown."""

    sizes = _sizes()


class SimilarQuery(PageQuery):
    """How the shoes near to one are ranked and shown."""

    weigh = serializers.MultipleChoiceField(
        choices=list(WEIGHED),
        required=False,
        help_text="What is stated and counts beside the four scores; repeat it for both. Left out: the scores alone.",
    )
    sizes = _sizes()


def _price(end: str) -> QueryNumber:
    return QueryNumber(
        min_value=0,
        max_value=PRICE_BOUND,
        required=False,
        help_text=f"List price in the practice’s own currency, {end}. The smallest may not be above the largest.",
    )


class ShoeQuery(PageQuery):
    """The filters of the list of shoes."""

    band = serializers.ListField(
        child=serializers.CharField(trim_whitespace=False, min_length=1),
        required=False,
        help_text="Order or name of a band, as bands/ lists them; repeat it for several. Others: 400.",
    )
    use = serializers.MultipleChoiceField(choices=USES, required=False, help_text="Repeat it for several.")
    midfoot_min = _score("the smallest")
    midfoot_max = _score("the largest")
    rearfoot_min = _score("the smallest")
    rearfoot_max = _score("the largest")
    cushioning_min = _score("the smallest")
    cushioning_max = _score("the largest")
    drop_min = _drop("the smallest")
    drop_max = _drop("the largest")
    price_min = _price("the smallest")
    price_max = _price("the largest")
    mass_max = _measure("mass", "g, the largest.")
    size = query_text(
        RegexValidator(SIZE_PATTERN, f"{HOW_TO_WRITE}. Possible sizes: {SIZE_RANGES}."),
        f"In stock in this size, written like {SIZE_EXAMPLES}; a number alone is an EU size. {SIZE_RANGES}. Other "
        "sizes than EU are converted to the nearest half EU size, which is approximate.",
    )
    store = serializers.RegexField(
        r"^[-a-zA-Z0-9_]+$",
        max_length=50,
        required=False,
        trim_whitespace=False,
        help_text="In stock in the store of this short name, as stores/ lists them. Others: 400.",
    )
    q = serializers.CharField(
        max_length=TEXT_MOST,
        required=False,
        allow_blank=True,
        trim_whitespace=False,
        help_text="Words of brand, name or version; no NUL (400).",
    )
    wearer = serializers.ChoiceField(
        choices=list(WEARERS), required=False, help_text="For whom; shoes for men and women are among both."
    )
    width = serializers.CharField(
        max_length=12, required=False, trim_whitespace=False, help_text="A width fitting that shoes have. Others: 400."
    )
    photo = serializers.ChoiceField(choices=["yes"], required=False, help_text="Only shoes with a photo.")
    order = serializers.ChoiceField(choices=list(ORDERS.items()), required=False, help_text="How to sort.")
    sizes = _sizes()


_NUMBERS = tuple(name for name, field in ShoeQuery().fields.items() if isinstance(field, QueryNumber))


def asked_filter(asked: Mapping[str, Any], choices: Choices) -> ShoeFilter:
    """Return the filter that a read `ShoeQuery` asks for.

    Raises
    ------
    BadQuery
        For a band or store that there is not, and where a smallest value is above its largest.
    """
    query = QueryDict(mutable=True)
    query.setlist("band", asked.get("band", ()))
    query.setlist("use", asked.get("use", ()))
    for name in asked.keys() & {"size", "store", "q", "order", "page", "wearer", "width", "photo"}:
        query[name] = str(asked[name])
    for name in asked.keys() & set(_NUMBERS):
        query[name] = f"{asked[name]:.12f}"
    return shoe_filter(query, choices)
