"""Shoes by what people write of them: pages show and take names, never addresses."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from catalogue.models import Shoe
from catalogue.selectors.stock.stock_work import full_title, shoes_named
from core.web.display import listed

MATCHES_SHOWN = 5
OFFERED_MOST = 20


@dataclass(frozen=True, slots=True)
class NamedShoe:
    """The shoe that a text names; without a slug, `problem` says in a sentence why none could be taken."""

    slug: str = ""
    title: str = ""
    problem: str = ""


def shoes_by_text(texts: Iterable[str]) -> dict[str, NamedShoe]:
    """Find the shoe that each text names: by its whole name, or by words that only one shoe has.

    An address is understood too: links and earlier drafts contain them. One query for all addresses, and one for each
    other text.
    """
    wanted = {text for text in texts if text}
    shoes = Shoe.objects.filter(slug__in=wanted).select_related("brand") if wanted else ()
    found = {shoe.slug: NamedShoe(shoe.slug, full_title(shoe)) for shoe in shoes}
    return found | {text: _named(text) for text in sorted(wanted - found.keys())}


def shoe_of_title(text: str) -> NamedShoe | None:
    """Return the shoe whose whole name or address a text is, None for any other text."""
    named = shoes_by_text([text]).get(text)
    if named is None or not named.slug:
        return None
    is_whole = text == named.slug or " ".join(text.split()).casefold() == named.title.casefold()
    return named if is_whole else None


def names_offered(words: str) -> list[str]:
    """Return names of shoes that have every word of a text, to offer while one is typed: one query."""
    if not words.strip():
        return []
    return [full_title(shoe) for shoe in shoes_named(words, limit=OFFERED_MOST)]


def _named(text: str) -> NamedShoe:
    shoes = shoes_named(text, limit=MATCHES_SHOWN + 1)
    if len(shoes) == 1:
        return NamedShoe(shoes[0].slug, full_title(shoes[0]))
    if not shoes:
        return NamedShoe(problem=f"There is no published shoe “{text[:60]}”. Pick a name from the list, or ask for it.")
    names = [full_title(shoe) for shoe in shoes[:MATCHES_SHOWN]]
    more = " and others" if len(shoes) > MATCHES_SHOWN else ""
    return NamedShoe(problem=f"Several shoes match: {listed(names)}{more}. Write the whole name.")
