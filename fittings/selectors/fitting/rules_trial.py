"""Versions of the rules, and what one would have said of the fittings that were kept."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from django.utils import timezone

from catalogue.selectors import BandRow, band_list
from core.domain.errors import DomainError
from core.models import User
from fittings.domain.disclosure.differencing import whole_batches
from fittings.domain.disclosure.hiding import SMALL_CELL
from fittings.domain.fitting.need import OBSERVED_COLUMNS, Need, ObservedFoot, Person, assess
from fittings.domain.fitting.need import NeedRules as Rules
from fittings.domain.fitting.rules_data import rules_from_data
from fittings.domain.fitting.rules_trial import MOVED_BY, Changes, Trial, changes_of, coarse_steps, compare_needs
from fittings.domain.regions import Complaint
from fittings.models import Fitting, FootObservation, HistoryItem, NeedRules, TrialShown
from fittings.selectors.outcomes import noise
from fittings.selectors.outcomes.courses import CourseRow, counted, course_rows
from fittings.selectors.outcomes.noisy_counts import noisy_counted
from fittings.selectors.outcomes.outcomes import Outcomes, Scope, finish, scope_of
from fittings.selectors.outcomes.released_people import quarter_of, released_until

FITTINGS_MOST = 20_000
"""The newest so many are tried; a page must come in a few seconds."""

FATES = {
    (True, True): "In both targets",
    (True, False): "In theirs only",
    (False, True): "In the draft’s only",
    (False, False): "In neither",
}


APART_LEAST = 10
"""Trials that differ by fewer people are not shown beside each other."""

MASS_STEP_KG = 5.0
"""Over all stores thresholds of the body mass are tried to this step, but those in force as they are."""


@dataclass(frozen=True, slots=True)
class RulesTrial:
    """A dry run over past fittings: how targets move, and how people fared by which target their shoe lay in.

    Over all stores `until` is the first day of fittings that are not tried yet, `results` are hashes of a fitting and
    what was said of it, and `withheld` says why nothing is shown, empty where something is.
    """

    trial: Trial
    bands: tuple[BandRow, ...]
    fared: Outcomes
    since: dt.date | None
    until: dt.date | None = None
    results: tuple[int, ...] = ()
    withheld: str = ""


def rules_list() -> list[NeedRules]:
    """Every version, newest first."""
    return list(NeedRules.objects.select_related("created_by", "adopted_by").order_by("-created_at", "-pk"))


def rules_get(pk: int) -> NeedRules:
    version = NeedRules.objects.select_related("created_by", "adopted_by").filter(pk=pk).first()
    if version is None:
        raise DomainError("These rules do not exist.", code="not_found", status=404)
    return version


def rules_trial(user: User, stored: NeedRules, *, on: dt.date | None = None) -> RulesTrial:
    """Work out every kept fitting's need again under a version of the rules: eight queries, nothing is written."""
    scope = scope_of(user)
    with scope.opened():
        return _trial(scope, stored, on or timezone.localdate())


def rules_hash(stored: NeedRules) -> str:
    """What distinguishes versions of the rules by what they say of a need."""
    said = {name: value for name, value in stored.data.items() if name != "version"}
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


def _trial(scope: Scope, stored: NeedRules, on: dt.date) -> RulesTrial:
    fittings = Fitting.objects.without_training().order_by("-at", "-pk")
    if scope.hides:
        fittings = fittings.filter(at__date__lt=released_until(on))
    tried = list(fittings[:FITTINGS_MOST])
    needs = needs_under(tried, _rules_tried(stored, scope))
    courses: dict[int, list[CourseRow]] = defaultdict(list)
    for row in course_rows(scope.filter(), on=on):
        courses[row.fitting_id].append(row)
    bands = tuple(band_list())
    edges = [band.upper for band in bands if band.upper is not None]
    old = np.array([(fitting.need_low, fitting.need_high) for fitting in tried], dtype=np.float64).reshape(-1, 2)
    new = np.array([(need.low, need.high) for need in needs], dtype=np.float64).reshape(-1, 2)
    since = timezone.localdate(tried[-1].at) if tried else None
    pairs = [
        (quarter_of(timezone.localdate(fitting.at)), row, need)
        for fitting, need in zip(tried, needs, strict=True)
        for row in courses.get(fitting.pk, ())
    ]
    if not scope.hides:
        return RulesTrial(compare_needs(old, new, edges), bands, _fared(scope, pairs), since)
    keys = noise.record_keys([fitting.customer_id for fitting in tried])
    said = _said(tried, courses, needs, changes_of(old, new, edges))
    withheld = _withheld(stored, tried, said)
    trial = compare_needs(old, new, edges, count=lambda people: noise.noisy_of(people, keys), extreme=SMALL_CELL)
    results = tuple(noise.hash_of(*item) for item in said.after)
    shown = _fared(scope, [] if withheld else pairs)
    return RulesTrial(trial, bands, shown, since, released_until(on), results, withheld)


def _rules_tried(stored: NeedRules, scope: Scope) -> Rules:
    rules = rules_from_data(stored.data)
    if not scope.hides:
        return rules
    adopted = NeedRules.objects.filter(adopted_at__isnull=False).values_list("data", flat=True)
    known = {step[0] for data in adopted for step in data["running_mass_above_kg"]}
    return replace(rules, running_mass_above_kg=coarse_steps(rules.running_mass_above_kg, known, MASS_STEP_KG))


@dataclass(frozen=True, slots=True)
class _Said:
    """What the rules tried, and those that were used, say of each fitting, with the fitting."""

    before: list[tuple[Any, ...]]
    after: list[tuple[Any, ...]]

    @property
    def apart(self) -> int:
        return sum(one != other for one, other in zip(self.before, self.after, strict=True))


def _said(
    tried: Sequence[Fitting], courses: Mapping[int, Sequence[CourseRow]], needs: Sequence[Need], changes: Changes
) -> _Said:
    before, after = [], []
    wider = np.sign(np.where(np.abs(changes.wider) < MOVED_BY, 0.0, changes.wider)).astype(int).tolist()
    moved = (np.abs(changes.shift) >= MOVED_BY).tolist()
    columns = (changes.whole.tolist(), moved, wider, changes.band_before.tolist(), changes.band_after.tolist())
    for fitting, need, whole, moves, width, band, other in zip(tried, needs, *columns, strict=True):
        course = next(iter(courses.get(fitting.pk, ())), None)
        before.append((fitting.pk, 0, False, 0, band, course and course.in_target))
        after.append((fitting.pk, whole, moves, width, other, course and need.contains(course.stability)))
    return _Said(before, after)


def _withheld(stored: NeedRules, tried: Sequence[Fitting], said: _Said) -> str:
    """Why a trial is not shown: it differs by a few people from the rules that were used, or from another shown."""
    if 0 < said.apart < APART_LEAST:
        return f"Fewer than {APART_LEAST} people would get a different target, so nothing is shown of them."
    days = np.array([timezone.localdate(fitting.at).toordinal() for fitting in tried])
    hashes = np.array([noise.hash_of(*item) for item in said.after], dtype=np.int64)
    for until, results in TrialShown.objects.exclude(rules_hash=rules_hash(stored)).values_list("until", "results"):
        apart = int((~np.isin(hashes[days < until.toordinal()], results)).sum())
        if 0 < apart < APART_LEAST:
            return (
                f"Other rules that were tried differ from these by fewer than {APART_LEAST} people. "
                "Side by side the two would give away single people, so nothing is shown."
            )
    return ""


def needs_under(fittings: list[Fitting], rules: Rules) -> list[Need]:
    """The needs of past fittings under a version of the rules: two queries."""
    pks = [fitting.pk for fitting in fittings]
    feet: dict[int, dict[str, ObservedFoot]] = defaultdict(dict)
    observed = FootObservation.objects.filter(fitting__in=pks).values("fitting_id", "foot", *OBSERVED_COLUMNS)
    for row in observed:
        fitting_id, foot = row.pop("fitting_id"), row.pop("foot")
        feet[fitting_id][foot] = ObservedFoot(**row)
    stated: dict[int, list[Complaint]] = defaultdict(list)
    columns = ("fitting_id", "region", "side", "now", "settled_on")
    for fitting_id, region, side, now, settled_on in HistoryItem.objects.filter(fitting__in=pks).values_list(*columns):
        stated[fitting_id].append(Complaint(region, side or None, now, settled_on))
    return [
        assess(
            Person(
                use=fitting.use,
                body_mass_kg=fitting.body_mass_kg,
                left=feet[fitting.pk].get("left", ObservedFoot()),
                right=feet[fitting.pk].get("right", ObservedFoot()),
                hip_weak=fitting.hip_weak,
                history=tuple(stated[fitting.pk]),
            ),
            rules,
        )
        for fitting in fittings
    ]


Tried = tuple[int, CourseRow, Need]
"""The quarter of a fitting, a row of its course and the need under the rules tried."""


def _fared(scope: Scope, tried: Sequence[Tried]) -> Outcomes:
    """How people fared by whether the shoe they chose lay in their target then, and in the one tried."""
    groups: dict[Any, list[Tried]] = defaultdict(list)
    for item in tried:
        _, row, need = item
        groups[row.in_target, need.contains(row.stability)].append(item)
    if scope.hides:
        counts = noisy_counted((key, row) for key, group in groups.items() for row in _batched(group))
    else:
        counts = counted((key, row) for key, group in groups.items() for _, row, _ in group)
    return finish(counts, FATES, scope, compares=False)


def _batched(group: Sequence[Tried]) -> list[CourseRow]:
    """A group without the newest people, as long as too few of them were at risk."""
    at_risk = {row.customer_id: quarter for quarter, row, _ in group if row.days is not None}
    people = at_risk or {row.customer_id: quarter for quarter, row, _ in group}
    until = whole_batches(list(people.values()), SMALL_CELL)
    return [row for quarter, row, _ in group if until is not None and quarter < until]
