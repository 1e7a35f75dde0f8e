"""How far two fitters agree on the same person."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db.models import QuerySet

from core.models import User
from fittings.domain.fitting.grading import MEASURED
from fittings.domain.fitting.intake import Condition
from fittings.domain.fitting.looks import GAITS, OBSERVED, WORN, condition_words
from fittings.domain.fitting.need import GRADE_WORDS
from fittings.domain.outcomes.agreement import Kappa, weighted_kappa
from fittings.models import Fitting, FootObservation, LookFoot, SecondObservation
from fittings.selectors.outcomes import noise
from fittings.selectors.outcomes.courses import OutcomeFilter

PEOPLE_LEAST = 10
"""Fewer people than this seen twice: too few to say; common practice, no source."""

OPEN_FOR_DAYS = 14
"""How long after a fitting a second look is asked for."""

FPI_WORDS = ("up to 5", "6 to 9", "10 and over")

ITEMS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("pronation", "Pronation", GRADE_WORDS),
    ("tibial_rotation", "Tibial rotation", GRADE_WORDS),
    ("rearfoot_eversion", "Rearfoot eversion", GRADE_WORDS),
    ("fpi6", "Foot Posture Index", FPI_WORDS),
)


SIGNS = ITEMS[: len(MEASURED)]
"""Those that are seen in every look."""

PLACE = ("gait", "worn", "shoe_id")
_OBSERVED = (OBSERVED.gait, OBSERVED.worn)


@dataclass(frozen=True, slots=True)
class Agreement:
    """One observation: how many people got which grade from the first and the second fitter, and kappa.

    `kappa` is None for fewer than ten people.
    """

    name: str
    grades: tuple[str, ...]
    table: tuple[tuple[int, ...], ...]
    n: int
    kappa: Kappa | None


def _on_observation(second: Worse, *, hides: bool) -> list[Agreement]:
    first = _worse(FootObservation.objects.filter(fitting__in=[fitting for fitting, *_ in second]), ITEMS)
    return [_agreement(item, first, second, hides=hides) for item in ITEMS]


def all_agreements(wanted: OutcomeFilter, *, hides: bool = False) -> tuple[list[Agreement], list[LookAgreement]]:
    """Agreement on each observation, and on the signs of every other kind of look: three queries.

    Of each person the worse foot counts, as the need takes it, and of several shoes looked at twice the one first in
    the catalogue. Where stores are added up (`hides`) every count has noise, and what is computed follows from these
    counts.
    """
    every = _worse(SecondObservation.objects.filter(fitting__in=fittings_of(wanted)), ITEMS, PLACE)
    observed = {key[:1]: seen for key, seen in every.items() if key[1:3] == _OBSERVED}
    others = {key: seen for key, seen in every.items() if key[1:3] != _OBSERVED}
    return _on_observation(observed, hides=hides), _by_look(others, hides=hides)


def observed_twice(wanted: OutcomeFilter) -> QuerySet[SecondObservation]:
    """Second looks of the kind that the observation is: at the person walking barefoot."""
    fittings = fittings_of(wanted)
    return SecondObservation.objects.filter(fitting__in=fittings, gait=OBSERVED.gait, worn=OBSERVED.worn)


@dataclass(frozen=True, slots=True)
class LookAgreement:
    """Agreement on each sign in one kind of look; `label` says which, such as "running barefoot"."""

    label: str
    signs: tuple[Agreement, ...]

    @property
    def n(self) -> int:
        return max(item.n for item in self.signs)


def _by_look(second: Worse, *, hides: bool) -> list[LookAgreement]:
    first = _worse(LookFoot.objects.filter(fitting__in={fitting for fitting, *_ in second}), SIGNS, PLACE)
    pairs = _one_a_person(key for key in second if key in first)
    found = []
    for gait, worn in ((gait, worn) for gait in GAITS for worn in WORN):
        kind = Condition(gait, worn)
        if kind == OBSERVED:
            continue
        seen = {key: second[key] for key in pairs if key[1:3] == (gait, worn)}
        parts = tuple(_agreement(item, first, seen, hides=hides) for item in SIGNS)
        found.append(LookAgreement(condition_words(kind), parts))
    return found


def _one_a_person(keys: Iterable[Key]) -> list[Key]:
    """One shoe for each person, gait and kind of footwear."""
    one: dict[Key, Key] = {}
    for key in sorted(keys, key=lambda key: (*key[:3], key[3] or 0)):
        one.setdefault(key[:3], key)
    return list(one.values())


def fittings_of(wanted: OutcomeFilter) -> QuerySet[Fitting]:
    """The kept fittings of a period, of some stores and perhaps of one fitter."""
    fittings = Fitting.objects.without_training().filter(store__in=wanted.stores)
    if wanted.since:
        fittings = fittings.filter(at__date__gte=wanted.since)
    if wanted.until:
        fittings = fittings.filter(at__date__lt=wanted.until)
    return fittings if wanted.fitter is None else fittings.filter(fitter=wanted.fitter)


Key = tuple[Any, ...]
Worse = dict[Key, dict[str, int]]
RECORD_KEY = "record_key"
Item = tuple[str, str, tuple[str, ...]]


def _worse(feet: QuerySet[Any], items: Sequence[Item], place: Sequence[str] = ()) -> Worse:
    """The worse foot by fitting, and by what else tells looks apart (`place`)."""
    worst: Worse = defaultdict(dict)
    names = [name for name, _, _ in items]
    rows = feet.annotate(record_key=noise.record_key("fitting__customer"))
    for row in rows.values_list("fitting_id", *place, "record_key", *names):
        key, (record_key, *values) = row[: 1 + len(place)], row[1 + len(place) :]
        kept = worst[key]
        kept[RECORD_KEY] = record_key
        for name, value in zip(names, values, strict=True):
            if value is not None:
                kept[name] = max(value, kept.get(name, value))
    return worst


def _agreement(item: Item, first: Worse, second: Worse, *, hides: bool) -> Agreement:
    name, label, grades = item
    table = np.zeros((len(grades), len(grades)), dtype=np.int64)
    keys: Counter[tuple[int, int]] = Counter()
    for key, seen in second.items():
        one, other = first.get(key, {}).get(name), seen.get(name)
        if one is not None and other is not None:
            place = _grade(name, one), _grade(name, other)
            table[place] += 1
            keys[place] += seen[RECORD_KEY]
    if hides:
        for place, record_keys in keys.items():
            table[place] = noise.noisy(int(table[place]), record_keys)
    n = int(table.sum())
    kappa = weighted_kappa(table, "quadratic") if n >= PEOPLE_LEAST else None
    return Agreement(label, grades, tuple(tuple(row) for row in table.tolist()), n, kappa)


def _grade(name: str, value: int) -> int:
    """The Foot Posture Index in the steps that the need knows, grades as they are."""
    if name != "fpi6":
        return value
    return int(np.searchsorted((6, 10), value, side="right"))


def open_for_second_look(user: User, *, on: dt.date) -> Sequence[Fitting]:
    """Fittings of the last two weeks that the user may look at a second time: one query."""
    since = on - dt.timedelta(days=OPEN_FOR_DAYS)
    fittings = Fitting.objects.visible_to(user).with_consent().filter(at__date__gte=since, second_feet__isnull=True)
    return list(fittings.exclude(fitter=user).select_related("store", "fitter", "customer")[:20])


def is_open_for_second_look(user: User, fitting: Fitting, *, on: dt.date) -> bool:
    """Whether the user may still look at the person of a fitting (of `fitting_get`) before seeing what is there."""
    if fitting.fitter_id == user.pk or fitting.at.date() < on - dt.timedelta(days=OPEN_FOR_DAYS):
        return False
    looked_twice: bool = getattr(fitting, "looked_twice", False)
    return not looked_twice


def second_look_get(user: User, pk: int) -> Fitting | None:
    """The fitting to be looked at, without what the first fitter saw."""
    return Fitting.objects.visible_to(user).select_related("store", "customer").filter(pk=pk).first()
