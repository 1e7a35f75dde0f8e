"""Every published shoe as columns in memory: read once, then changed where shoes changed.

Filters, counts, orders, drawings and nearness all ask of every shoe at once: arrays answer that in well under a
millisecond where a hundred thousand rows of the database would take a tenth of a second.
"""

from __future__ import annotations

from bisect import bisect
from collections.abc import Callable, Collection, Hashable, Iterable, Sequence
from dataclasses import dataclass, field
from threading import Lock
from typing import Any, TypeVar

import numpy as np
from django.conf import settings
from django.db.models import Case, F, FloatField, Func, TextField, Value, When
from django.db.models.fields.json import KeyTextTransform
from django.db.models.functions import Cast, Concat

from catalogue.domain.sieve import FEW, Bools, Floats, Ints, ordered, picked
from catalogue.domain.similarity import FEATURES
from catalogue.models import USES, WEARERS
from catalogue.selectors.public.changes import changed_since
from catalogue.selectors.public.revision import Revision
from catalogue.selectors.public.rows import SCORES, current_cards
from core.domain.coverage import coverage_factors

ValueT = TypeVar("ValueT")
# A shoe as it is read: the slug first, so that sorted rows are in the order of slugs.
_TEXTS = (
    "shoe__slug",
    "shoe__brand__name",
    "shoe__name",
    "shoe__version",
    "band__name",
    "shoe__use",
    "neighbour__name",
    "shoe__wearer",
    "all_widths",
    "photo",
)
_WHOLE = ("shoe_id", "band__order")
_FLAGS = ("shoe__is_discontinued", "cushioning_estimated", "is_borderline", "is_provisional")
_NUMBERS = (
    *SCORES,
    "shoe__mass_g",
    "shoe__drop_mm",
    *(f"{name}_u" for name in SCORES),
    "band_probability",
    *(f"{name}_df" for name in SCORES),
    "shoe__stack_heel_mm",
    "shoe__stack_forefoot_mm",
    "price",
)
_ALL = (*_TEXTS, *_WHOLE, *_FLAGS, *_NUMBERS)
# Between the width fittings of a shoe where they are one text: no fitting has it in its name.
WIDTHS_BETWEEN = "\n"
_FEATURE = {"mass": "mass_g", "drop": "drop_mm"}

Row = tuple[Any, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """The published shoes by slug, one row each.

    `values`, `u` and `df` have the columns of `similarity.FEATURES`, shape (n, 6), nan where not known, like
    `band_probability`; `df` are the degrees of freedom of u, nan where unlimited. `neighbours` names the band beside
    that of a borderline shoe, else "". `width` is the place of a shoe's width fittings in `width_sets`. `stacks` are
    the heel's and the forefoot's, mm, shape (n, 2), `price` the list price in the practice's currency; nan where not
    stated. `photos` has digest and width of the smallest file, "" without a photo. `place` leads from the id of a shoe
    to its row, or −1. `derived` holds what `once` worked out.
    """

    ids: Ints
    place: Ints
    rows: dict[str, int]
    slugs: tuple[str, ...]
    brands: tuple[str, ...]
    names: tuple[str, ...]
    versions: tuple[str, ...]
    band_names: tuple[str, ...]
    neighbours: tuple[str, ...]
    band: Ints
    use: Ints
    is_discontinued: Bools
    is_estimated: Bools
    is_borderline: Bools
    is_provisional: Bools
    values: Floats
    u: Floats
    df: Floats
    band_probability: Floats
    wearer: Ints
    width: Ints
    width_sets: tuple[str, ...]
    photos: tuple[str, ...]
    stacks: Floats
    price: Floats
    derived: dict[Hashable, Any] = field(default_factory=dict, repr=False, compare=False)

    @property
    def expanded(self) -> Floats:
        """Expanded uncertainties of the four scores, shape (n, 4): k u, nan where u is not known."""
        return self.once("expanded", lambda: coverage_factors(self.df[:, :4]) * self.u[:, :4])

    @property
    def count(self) -> int:
        return len(self.slugs)

    def once(self, key: Hashable, compute: Callable[[], ValueT]) -> ValueT:
        """Return what follows from all shoes alone, computed at the first question: orders, bars, squares, nearness.

        Each takes 5 to 200 ms at 100,000 shoes, longer than the rest of a page. It goes when these columns go.
        """
        if key not in self.derived:
            self.derived[key] = compute()
        value: ValueT = self.derived[key]
        return value

    def title(self, row: int) -> str:
        return f"{self.brands[row]} {self.names[row]} {self.versions[row]}".rstrip()

    def feature(self, name: str) -> Floats:
        """Return one of `similarity.FEATURES`, or the places of the names in the alphabet ("name")."""
        if name == "name":
            return self.once("alphabet", self._alphabet)
        if name == "price":
            return self.price
        values: Floats = self.values[:, FEATURES.index(_FEATURE.get(name, name))]
        return values

    def _alphabet(self) -> Floats:
        keys = [
            (brand.casefold(), name.casefold(), version, slug)
            for brand, name, version, slug in zip(self.brands, self.names, self.versions, self.slugs, strict=True)
        ]
        places = np.empty(self.count, dtype=np.float64)
        places[sorted(range(self.count), key=keys.__getitem__)] = np.arange(self.count)
        return places

    def in_order(self, rows: Ints, name: str, *, is_descending: bool) -> Ints:
        """Return rows, given in the order of the table, in the order of a value; missing values last either way.

        Few are sorted; many are picked from the order of all shoes.
        """
        values = self.feature(name)
        if len(rows) < self.count * FEW:
            few: Ints = rows[ordered(values[rows], is_descending=is_descending)]
            return few
        return picked(
            self.once((name, is_descending), lambda: ordered(values, is_descending=is_descending)),
            rows,
        )

    def rows_of(self, shoe_ids: Iterable[int]) -> Ints:
        """Return the rows of these shoes, in order, each once; ids that are not published are left out."""
        wanted = np.fromiter(shoe_ids, dtype=np.intp)
        places = self.place[wanted[wanted < len(self.place)]]
        rows: Ints = np.unique(places[places >= 0])
        return rows

    def among(self, shoe_ids: Iterable[int]) -> Bools:
        """Say for every row whether its shoe is one of these."""
        is_one: Bools = np.zeros(self.count, dtype=np.bool_)
        is_one[self.rows_of(shoe_ids)] = True
        return is_one


def _once(texts: Sequence[str]) -> tuple[str, ...]:
    """Hold each text once: a hundred thousand shoes have a few hundred brands."""
    seen: dict[str, str] = {}
    return tuple(seen.setdefault(text, text) for text in texts)


def _place(shoe_ids: Ints) -> Ints:
    place: Ints = np.full(int(shoe_ids.max(initial=-1)) + 1, -1, dtype=np.intp)
    place[shoe_ids] = np.arange(len(shoe_ids))
    return place


def _places_of(slugs: Sequence[str]) -> dict[str, int]:
    return {slug: row for row, slug in enumerate(slugs)}


def _columns(rows: Iterable[Row]) -> Columns:
    """Turn rows of the database into columns, in the order of characters whatever the database's order is."""
    lines = sorted(rows)
    slugs, brands, names, versions, band_names, uses, neighbours, wearers, widths, photos, ids, band, *more = (
        zip(*lines, strict=True) if lines else [()] * len(_ALL)
    )
    shoe_ids = np.array(ids, dtype=np.intp)
    flags = [np.array(column, dtype=np.bool_) for column in more[: len(_FLAGS)]]
    numbers = np.array(more[len(_FLAGS) :], dtype=np.float64).reshape(len(_NUMBERS), len(lines)).T
    use_of = {use: number for number, use in enumerate(USES)}
    wearer_of = {wearer: number for number, wearer in enumerate(WEARERS)}
    width_sets = sorted({text or "" for text in widths})
    width_of = {text: number for number, text in enumerate(width_sets)}
    return Columns(
        ids=shoe_ids,
        place=_place(shoe_ids),
        rows=_places_of(slugs),
        slugs=tuple(slugs),
        brands=_once(brands),
        names=tuple(names),
        versions=_once(versions),
        band_names=_once(band_names),
        neighbours=_once([name or "" for name in neighbours]),
        band=np.array(band, dtype=np.intp),
        use=np.array([use_of[use] for use in uses], dtype=np.intp),
        is_discontinued=flags[0],
        is_estimated=flags[1],
        is_borderline=flags[2],
        is_provisional=flags[3],
        values=numbers[:, :6],
        # Mass and drop are stated, not tested: nothing is known of their uncertainty.
        u=np.asfortranarray(np.hstack([numbers[:, 6:10], np.full((len(lines), 2), np.nan)])),
        df=np.asfortranarray(np.hstack([numbers[:, 11:15], np.full((len(lines), 2), np.nan)])),
        band_probability=numbers[:, 10],
        wearer=np.array([wearer_of[wearer] for wearer in wearers], dtype=np.intp),
        width=np.array([width_of[text or ""] for text in widths], dtype=np.intp),
        width_sets=tuple(width_sets),
        photos=tuple(photo or "" for photo in photos),
        stacks=numbers[:, 15:17],
        price=numbers[:, 17],
    )


_TEXT_COLUMNS = ("brands", "names", "versions", "band_names", "neighbours", "photos")
_NUMBER_COLUMNS = (
    *("band", "use", "wearer", "is_discontinued", "is_estimated", "is_borderline", "is_provisional"),
    *("values", "u", "df", "band_probability", "stacks", "price"),
)


@dataclass(frozen=True, slots=True, eq=False)
class _Splice:
    """Which rows of a table go, and in front of which of the remaining rows each new one is put; both ascending."""

    gone: Ints
    at: Sequence[int]

    def texts(self, old: Sequence[str], new: Sequence[str]) -> tuple[str, ...]:
        texts = list(old)
        for row in reversed(self.gone.tolist()):
            del texts[row]
        for row, text in reversed(list(zip(self.at, new, strict=True))):
            texts.insert(row, text)
        return tuple(texts)

    def numbers(self, old: np.ndarray[Any, Any], new: np.ndarray[Any, Any]) -> Any:
        # Column by column, as they are read.
        return np.asfortranarray(np.insert(np.delete(old, self.gone, axis=0), self.at, new, axis=0))


def _changed(old: Columns, shoe_ids: Collection[int], rows: Iterable[Row]) -> Columns:
    """Return the columns with some shoes read again, in 0.2 s at 100,000 shoes; to build all takes 1.1 s.

    A shoe of `shoe_ids` that has no row is not published any more.
    """
    new = _columns(rows)
    gone = old.rows_of(shoe_ids)
    remaining = _Splice(gone, ()).texts(old.slugs, ())
    splice = _Splice(gone, [bisect(remaining, slug) for slug in new.slugs])
    slugs = splice.texts(old.slugs, new.slugs)
    ids: Ints = splice.numbers(old.ids, new.ids)
    width_sets = sorted({*old.width_sets, *new.width_sets})
    of_old, of_new = ([width_sets.index(held) for held in each.width_sets] for each in (old, new))
    widths = splice.numbers(np.array(of_old, dtype=np.intp)[old.width], np.array(of_new, dtype=np.intp)[new.width])
    worn, width = np.unique(widths, return_inverse=True)
    texts: dict[str, Any] = {name: splice.texts(getattr(old, name), getattr(new, name)) for name in _TEXT_COLUMNS}
    numbers: dict[str, Any] = {name: splice.numbers(getattr(old, name), getattr(new, name)) for name in _NUMBER_COLUMNS}
    return Columns(
        ids=ids,
        place=_place(ids),
        rows=old.rows if slugs == old.slugs else _places_of(slugs),
        slugs=slugs,
        width=width,
        width_sets=tuple(width_sets[place] for place in worn),
        **texts,
        **numbers,
    )


class ShoesInMemory:
    """The columns of the last two revisions of the shoes in this process.

    Without them every page would read every shoe, most of a second at 100,000.
    """

    def __init__(self) -> None:
        self._lock = Lock()
        self._columns: dict[str, Columns] = {}

    def at(self, revision: Revision) -> Columns:
        columns = self._columns.get(revision.shoes)
        if columns is None:
            # One thread reads, the others wait for it.
            with self._lock:
                columns = self._columns.get(revision.shoes) or self._read(revision.shoes)
        return columns

    def _read(self, mark: str) -> Columns:
        """Read the shoes that changed since the last mark, or all of them.

        What is read may be newer than the mark: then the next reading does the same once more.
        """
        columns = self._fresh()
        self._columns = dict([*self._columns.items(), (mark, columns)][-2:])
        return columns

    def _fresh(self) -> Columns:
        last = next(reversed(self._columns), None)
        changed = None if last is None else changed_since(last)
        if last is None or changed is None:
            return _columns(_rows_of(None))
        return _changed(self._columns[last], changed, _rows_of(changed))


_WIDTHS = Func(F("shoe__widths"), Value(WIDTHS_BETWEEN), function="array_to_string", output_field=TextField())
_PHOTO = Case(
    When(
        shoe__photo__digest__isnull=False,
        then=Concat(
            "shoe__photo__digest", Value("-"), Cast("shoe__photo__widths_px__0", TextField()), output_field=TextField()
        ),
    ),
    default=Value(""),
    output_field=TextField(),
)


def _price() -> Cast:
    return Cast(KeyTextTransform(settings.CURRENCY, "shoe__list_prices"), FloatField())


def _rows_of(shoe_ids: Sequence[int] | None) -> list[Row]:
    cards = current_cards() if shoe_ids is None else current_cards().filter(shoe_id__in=shoe_ids)
    cards = cards.annotate(all_widths=_WIDTHS, photo=_PHOTO, price=_price())
    return list(cards.order_by().values_list(*_ALL))


_shoes = ShoesInMemory()


def columns_at(revision: Revision) -> Columns:
    """Return every published shoe as columns: no query where the revision is known."""
    return _shoes.at(revision)
