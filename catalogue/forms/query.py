"""Reading the query string. A value that can't be read is an error that names it; unknown keys are ignored."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from django.http import QueryDict

from catalogue.domain.filters import MEASURES, ORDERS, RANGES, VIEWS, WEARERS, ShoeFilter
from catalogue.domain.papers import PAPERS
from catalogue.domain.sizes import SIZE_EXAMPLES, SIZE_RANGES, ReadSize, size_read
from catalogue.models import USES
from core.domain.errors import DomainError
from core.domain.figures import figure
from core.domain.quoting import quoted
from core.domain.units import from_si, to_si
from core.web.display import IMPERIAL, METRIC, STYLES

SCORE_BOUND = 1000.0
PRICE_BOUND = 1_000_000.0
# By the name of what is measured (`MEASURES`), in the catalogue's unit.
MEASURE_BOUNDS: Mapping[str, tuple[float, float]] = {"mass": (0, 2000.0), "drop": (-120.0, 120.0)}
TEXT_MOST = 80
# What a maker states and a reader may have weighed: the word in the address, and the feature.
WEIGHED: Mapping[str, str] = {"mass": "mass_g", "drop": "drop_mm"}
PAGE_MOST = 1_000_000
COMPARED_MOST = 4

ValueT = TypeVar("ValueT")
_CONTROL = re.compile(r"[\x00-\x1f\x7f]+")


class BadQuery(DomainError):
    """What a query string asks can't be read; `problems` has a sentence for each bad value."""

    def __init__(self, problems: Mapping[str, Sequence[str]]) -> None:
        fields = {key: list(found) for key, found in problems.items()}
        self.problems = [sentence for found in fields.values() for sentence in found]
        super().__init__(" ".join(self.problems), code="bad_query", fields=fields)


@dataclass(frozen=True, slots=True)
class Choices:
    """What the catalogue holds that a query may name."""

    bands: Mapping[int, str]
    stores: Collection[str]
    widths: Collection[str] = ()


class _Reader:
    """Reads one key after the other and collects what is wrong."""

    def __init__(self, query: QueryDict) -> None:
        self.query = query
        self.problems: dict[str, list[str]] = {}

    def refuse(self, key: str, sentence: str) -> None:
        self.problems.setdefault(key, []).append(sentence)

    def many(self, key: str) -> list[str]:
        """Return every value of a key, commas separating too, without the empty ones."""
        values = [part for value in self.query.getlist(key) for part in value.replace("\x00", "").split(",")]
        return [value.strip() for value in values if value.strip()]

    def one(self, key: str) -> str:
        values = [value.replace("\x00", "").strip() for value in self.query.getlist(key)]
        values = [value for value in values if value]
        if len(set(values)) > 1:
            self.refuse(key, f"{key} can be given once, got {quoted(values[0])} and {quoted(values[1])}.")
        return values[0] if values else ""

    def read(self, key: str, convert: Callable[[str], ValueT], empty: ValueT) -> ValueT:
        text = self.one(key)
        if not text:
            return empty
        try:
            return convert(text)
        except ValueError as problem:
            self.refuse(key, f"{key} must be {problem}, got {quoted(text)}.")
            return empty

    def number(self, key: str, low: float, high: float, unit: str) -> float | None:
        wanted = f"a number from {figure(low)} to {figure(high)}{unit}"
        return self.read(key, lambda text: _bounded(text, low, high, wanted), None)

    def measure(self, key: str) -> float | None:
        """Read a number in the catalogue's unit, or in another one that the key names; both at once are refused."""
        name = key.rpartition("_")[0]
        style, (low, high) = STYLES[MEASURES[name]], MEASURE_BOUNDS[name]
        rest, other = style[METRIC], style[IMPERIAL]
        given = self.number(key, low, high, f" {rest.sign}")
        # Cut inwards, so that the bound named is inside.
        least, most = (int(from_si(end, other.unit, quantity=other.quantity) * 100) / 100 for end in (low, high))
        shown = self.number(f"{key}_{other.unit}", least, most, f" {other.sign}")
        if shown is None:
            return given
        if given is not None:
            self.refuse(f"{key}_{other.unit}", f"{key}_{other.unit} is given in another unit too. Give it once.")
        return to_si(shown, other.unit, quantity=other.quantity)

    def finish(self) -> None:
        if self.problems:
            raise BadQuery(self.problems)


def _bounded(text: str, low: float, high: float, wanted: str) -> float:
    # float() alone would also take "1_0", "nan" and digits of other scripts.
    if not re.fullmatch(r"[-+]?(\d{1,12}(\.\d{0,12})?|\.\d{1,12})", text, re.ASCII):
        comma = " with a decimal point, not a comma" if re.fullmatch(r"[-+]?\d+,\d+", text, re.ASCII) else ""
        raise ValueError(f"{wanted}{comma}")
    value = float(text)
    if not (math.isfinite(value) and low <= value <= high):
        raise ValueError(wanted)
    return value


def whole(text: str, most: int) -> int:
    """Read a whole number from 1 to `most`."""
    if not re.fullmatch(r"\d{1,7}", text, re.ASCII) or not 1 <= int(text) <= most:
        raise ValueError(f"a whole number from 1 to {figure(most)}")
    return int(text)


def _size(text: str) -> ReadSize:
    try:
        return size_read(text)
    except ValueError as problem:
        raise ValueError(f"written like {SIZE_EXAMPLES} ({SIZE_RANGES})") from problem


def _one_of(text: str, accepted: Collection[str]) -> str:
    if not accepted:
        raise ValueError("left out, there is none to choose")
    if text not in accepted:
        if len(accepted) == 1:
            raise ValueError(f"{next(iter(accepted))}, or left out")
        raise ValueError(f"one of {', '.join(sorted(accepted))}" if len(accepted) <= 20 else "a known one")
    return text


def _bands(reader: _Reader, bands: Mapping[int, str]) -> tuple[int, ...]:
    by_word = {name.casefold().replace(" ", "-"): order for order, name in bands.items()}
    by_word |= {str(order): order for order in bands}
    found = set()
    for value in reader.many("band"):
        order = by_word.get(value.casefold().replace(" ", "-"))
        if order is None:
            known = ", ".join(f"{order} ({name})" for order, name in bands.items())
            reader.refuse("band", f"band must be one of {known}, got {quoted(value)}.")
        else:
            found.add(order)
    return tuple(sorted(found))


def _uses(reader: _Reader) -> tuple[str, ...]:
    found = reader.many("use")
    for value in found:
        if value not in USES:
            reader.refuse("use", f"use must be one of {', '.join(USES)}, got {quoted(value)}.")
    return tuple(use for use in USES if use in found)


def _text(text: str) -> str:
    if len(text) > TEXT_MOST:
        raise ValueError(f"at most {TEXT_MOST} characters")
    return _CONTROL.sub(" ", text).strip()


def _end_of_range(reader: _Reader, name: str, end: str) -> float | None:
    key = f"{name}_{end}"
    if name in MEASURES:
        return reader.measure(key)
    if name == "price":
        return reader.number(key, 0.0, PRICE_BOUND, "")
    return reader.number(key, -SCORE_BOUND, SCORE_BOUND, "")


def shoe_filter(query: QueryDict, choices: Choices) -> ShoeFilter:
    """Read the filters of the list of shoes.

    Raises
    ------
    BadQuery
        With a sentence for every value that can't be read.
    """
    reader = _Reader(query)
    ranges: dict[str, float | None] = {}
    for name in RANGES:
        for end in ("min", "max"):
            ranges[f"{name}_{end}"] = _end_of_range(reader, name, end)
        least, most = ranges[f"{name}_min"], ranges[f"{name}_max"]
        if least is not None and most is not None and least > most:
            reader.refuse(f"{name}_min", f"{name}_min ({figure(least)}) must not be above {name}_max ({figure(most)}).")
    found = ShoeFilter(
        bands=_bands(reader, choices.bands),
        uses=_uses(reader),
        wearer=reader.read("wearer", lambda text: _one_of(text, WEARERS), None),
        width=reader.read("width", lambda text: _one_of(text, choices.widths), None),
        photo=reader.read("photo", lambda text: _one_of(text, ("yes",)), None),
        mass_max=reader.measure("mass_max"),
        size=reader.read("size", _size, None),
        store=reader.read("store", lambda text: _one_of(text, choices.stores), None),
        q=reader.read("q", _text, ""),
        order=reader.read("order", lambda text: _one_of(text, tuple(ORDERS)), "stability"),
        page=reader.read("page", lambda text: whole(text, PAGE_MOST), 1),
        view=reader.read("view", lambda text: _one_of(text, tuple(VIEWS)), "scale"),
        **ranges,
    )
    reader.finish()
    return found


def without_bad_keys(query: QueryDict, problem: BadQuery) -> QueryDict:
    """Return a query without the keys that could not be read; of a range that runs backwards both ends go."""
    rest = query.copy()
    for key in problem.fields:
        name, _, end = key.partition("_")
        for other in [known for known in rest if known == key or (end and known.startswith(f"{name}_"))]:
            del rest[other]
    return rest


def page_number(query: QueryDict) -> int:
    """Read the page of a list that has no other filter."""
    reader = _Reader(query)
    number = reader.read("page", lambda text: whole(text, PAGE_MOST), 1)
    reader.finish()
    return number


def words(query: QueryDict) -> str:
    """Read the words that a shoe is searched by."""
    reader = _Reader(query)
    found = reader.read("q", _text, "")
    reader.finish()
    return found


@dataclass(frozen=True, slots=True)
class Nearby:
    """What is asked of the list of near shoes: which page, and only what one can buy (in a size, in a store).

    `weighed` are the stated features that count beside what was measured.
    """

    page: int
    is_available: bool
    size: ReadSize | None
    store: str | None
    weighed: tuple[str, ...] = ()


def nearby(query: QueryDict, stores: Collection[str], *, is_available: bool) -> Nearby:
    """Read what is asked of the list of near shoes; `is_available` applies where the query does not say.

    A size or a store asks for what is available.
    """
    reader = _Reader(query)
    size = reader.read("size", _size, None)
    store = reader.read("store", lambda text: _one_of(text, stores), None)
    is_narrowed = size is not None or store is not None
    available = reader.read(
        "available", lambda text: _one_of(text, ("yes", "no")) == "yes", is_available or is_narrowed
    )
    page = reader.read("page", lambda text: whole(text, PAGE_MOST), 1)
    if is_narrowed and not available:
        reader.refuse("available", "available must be yes, or left out, where a size or a store is asked for.")
    weighed = _weighed(reader)
    reader.finish()
    return Nearby(page, available, size, store, weighed)


def _weighed(reader: _Reader) -> tuple[str, ...]:
    asked = reader.many("weigh")
    for value in asked:
        if value not in WEIGHED:
            reader.refuse("weigh", f"weigh must be one of {', '.join(WEIGHED)}, got {quoted(value)}.")
    return tuple(feature for name, feature in WEIGHED.items() if name in asked)


def compared_slugs(query: QueryDict) -> tuple[str, ...]:
    """Read which shoes to set side by side, each once, up to four, in the order given."""
    return named_slugs(query, most=COMPARED_MOST, verb="compared")


def named_slugs(query: QueryDict, *, most: int, verb: str = "listed") -> tuple[str, ...]:
    """Read which shoes are named, each once, in the order given."""
    reader = _Reader(query)
    slugs = tuple(dict.fromkeys(reader.many("shoe")))
    if len(slugs) > most:
        reader.refuse("shoe", f"Up to {most} shoes can be {verb}, got {len(slugs)}. Leave some out.")
    for slug in slugs[:most]:
        if not re.fullmatch(r"[-a-zA-Z0-9_]{1,80}", slug):
            reader.refuse("shoe", f"shoe must be the last part of the address of a shoe’s page, got {quoted(slug)}.")
    reader.finish()
    return slugs


def unknown_shoes(slugs: Sequence[str], *, withdrawn: Collection[str] = ()) -> BadQuery:
    """Return the error for shoes that are not in the published catalogue, or are no longer."""
    return BadQuery(
        {
            "shoe": [
                f"{quoted(slug)} was withdrawn from the catalogue; leave it out."
                if slug in withdrawn
                else f"There is no published shoe {quoted(slug)}."
                for slug in slugs
            ]
        }
    )


def page_beyond(number: int, pages: int) -> DomainError:
    """Return the error for a page after the last one."""
    message = f"page must be at most {pages}, the last one, got “{number}”."
    return DomainError(message, code="no_such_page", status=404, fields={"page": [message]})


@dataclass(frozen=True, slots=True)
class WallAsked:
    """Which store's shoes ("" for all), from which page on, whether the page stays, and the paper of a poster."""

    store: str
    page: int
    is_still: bool
    paper: str


def wall_asked(query: QueryDict, stores: Collection[str]) -> WallAsked:
    """Read what a display in a store, or a poster, is asked for."""
    reader = _Reader(query)
    asked = WallAsked(
        store=reader.read(
            "store", lambda text: _known(stores, text, "the last part of the address of a store’s page"), ""
        ),
        page=reader.read("page", lambda text: whole(text, PAGE_MOST), 1),
        is_still=reader.one("still") == "yes",
        paper=reader.read("paper", lambda text: _known(PAPERS, text, f"one of {', '.join(PAPERS)}"), "a2"),
    )
    reader.finish()
    return asked


def _known(known: Collection[str], text: str, wanted: str) -> str:
    if text not in known:
        raise ValueError(wanted)
    return text
