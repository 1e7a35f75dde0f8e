"""Shoes that stores asked for."""

from __future__ import annotations

from django.contrib.postgres.search import SearchQuery
from django.db.models import QuerySet

from catalogue.domain.search_words import search_query
from catalogue.models import Shoe, ShoeWish
from core.models import Store

LIKE_SHOWN = 8


def wishes(state: str = "") -> QuerySet[ShoeWish]:
    """Return the wishes of all stores, newest first, those of one state where it is given."""
    rows = ShoeWish.objects.select_related("store", "asked_by", "decided_by", "shoe__brand")
    return rows.filter(state=state) if state else rows


def wishes_of(store: Store) -> QuerySet[ShoeWish]:
    return wishes().filter(store=store)


def wish_get(pk: int) -> ShoeWish | None:
    return wishes().filter(pk=pk).first()


def shoes_like(wish: ShoeWish) -> list[Shoe]:
    """Return shoes of the catalogue whose names have the words of the wish's name: it may be there already."""
    query = search_query(wish.name)
    if not query:
        return []
    named = SearchQuery(query, config="simple", search_type="raw")
    shoes = Shoe.objects.filter(search__document=named, merged_into=None).select_related("brand")
    return list(shoes.order_by("brand__name", "name", "version")[:LIKE_SHOWN])
