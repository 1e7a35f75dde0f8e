"""The navigation bars at the top of each page.

An app registers its places in `<app>/permissions.py`, after its actions::

    from core.gate import navigation

    navigation.register(
        "Lab",
        [navigation.Place("Uploads", "labtests:upload-list", "labtests.upload:list")],
        order=10,
    )

`core.gate.access.allowed` decides who sees which place; an empty group is not shown.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.urls import reverse

from core.gate.access import PUBLIC, allowed, check_known

SITE = "Site"


@dataclass(frozen=True, slots=True)
class Place:
    """A label, its URL name, and the action it needs; pages under those in `also` belong to it too.

    `also` has URL names, and addresses (``/lab/climate/``) under which there are pages but none at the address itself.
    """

    label: str
    url_name: str
    action: str
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Link:
    """A place as one user sees it; `current` is the value of aria-current where `is_here`."""

    label: str
    url: str
    is_here: bool
    current: str


@dataclass(frozen=True, slots=True)
class Group:
    name: str
    items: tuple[Link, ...]


_groups: dict[str, tuple[int, tuple[Place, ...]]] = {}


def register(group: str, places: Iterable[Place], *, order: int = 50) -> None:
    """Set the places of a group; a second call for the same group replaces them."""
    chosen = tuple(places)
    for place in chosen:
        check_known(place.action)
    _groups[group] = (order, chosen)


def registered() -> dict[str, tuple[Place, ...]]:
    return {name: places for name, (_, places) in _groups.items()}


def _address(name: str) -> str:
    return name if name.startswith("/") else reverse(name)


def _links(places: Iterable[Place], user: Any, path: str) -> tuple[Link, ...]:
    seen = [place for place in places if place.action == PUBLIC or (user is not None and allowed(user, place.action))]
    urls = [reverse(place.url_name) for place in seen]
    # The longest matching address is the place the user is in.
    owned = {_address(name): reverse(place.url_name) for place in seen for name in (place.url_name, *place.also)}
    deepest = max((url for url in owned if path == url or (url != "/" and path.startswith(url))), key=len, default="")
    here = owned.get(deepest)
    return tuple(
        Link(place.label, url, url == here, "page" if url == path else "true")
        for place, url in zip(seen, urls, strict=True)
    )


def links_to(places: Iterable[Place], user: Any, path: str) -> tuple[Link, ...]:
    """Return the places that a user may open, for tabs among the pages of one subject."""
    return _links(places, user, path)


def site_links(user: Any, path: str) -> tuple[Link, ...]:
    return _links(_groups.get(SITE, (0, ()))[1], user, path)


def staff_groups(user: Any, path: str) -> tuple[Group, ...]:
    """Return the staff places that a user may open, by group, in order."""
    ordered = sorted((order, name, places) for name, (order, places) in _groups.items() if name != SITE)
    groups = (Group(name, _links(places, user, path)) for _, name, places in ordered)
    return tuple(group for group in groups if group.items)
