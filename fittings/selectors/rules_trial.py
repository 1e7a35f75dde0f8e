"""Versions of the rules, and what one would have said of the fittings that were kept."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

from django.utils import timezone

from catalogue.selectors import BandRow, band_list
from core.domain.errors import DomainError
from core.models import User
from fittings.domain.fitting.need import FootGait, Need, Person, assess
from fittings.domain.fitting.need import NeedRules as Rules
from fittings.domain.fitting.regions import Complaint
from fittings.domain.fitting.rules_data import rules_from_data
from fittings.domain.fitting.rules_trial import Trial, compare_needs
from fittings.models import Fitting, FootObservation, HistoryItem, NeedRules
from fittings.selectors.courses import counted, course_rows
from fittings.selectors.outcomes import Outcomes, finish, scope_of

FITTINGS_MOST = 20_000
"""The newest so many are tried; a page must come in a few seconds."""

FATES = {
    (True, True): "In both targets",
    (True, False): "In theirs only",
    (False, True): "In the draft's only",
    (False, False): "In neither",
}


@dataclass(frozen=True, slots=True)
class RulesTrial:
    """A dry run over past fittings: how targets move, and how people fared by which target their shoe lay in."""

    trial: Trial
    bands: tuple[BandRow, ...]
    fared: Outcomes
    since: dt.date | None


def rules_list() -> list[NeedRules]:
    """Every version, newest first."""
    return list(NeedRules.objects.select_related("created_by", "adopted_by").order_by("-created_at", "-pk"))


def rules_get(pk: int) -> NeedRules:
    version = NeedRules.objects.select_related("created_by", "adopted_by").filter(pk=pk).first()
    if version is None:
        raise DomainError("There are no such rules.", code="not_found", status=404)
    return version


def rules_trial(user: User, stored: NeedRules, *, on: dt.date | None = None) -> RulesTrial:
    """Work out every kept fitting's need anew under a version of the rules: five queries, nothing is written."""
    with scope_of(user).opened():
        return _trial(user, stored, on or timezone.localdate())


def _trial(user: User, stored: NeedRules, on: dt.date) -> RulesTrial:
    rules = rules_from_data(stored.data)
    fittings = list(Fitting.objects.kept().order_by("-at", "-pk")[:FITTINGS_MOST])
    needs = dict(zip((fitting.pk for fitting in fittings), needs_under(fittings, rules), strict=True))
    bands = tuple(band_list())
    trial = compare_needs(
        [(fitting.need_low or 0.0, fitting.need_high or 0.0) for fitting in fittings],
        [(need.low, need.high) for need in needs.values()],
        [band.upper for band in bands if band.upper is not None],
    )
    since = timezone.localdate(fittings[-1].at) if fittings else None
    return RulesTrial(trial, bands, _fared(user, needs, on), since)


def needs_under(fittings: list[Fitting], rules: Rules) -> list[Need]:
    """The needs of past fittings under a version of the rules: two queries."""
    pks = [fitting.pk for fitting in fittings]
    feet: dict[int, dict[str, FootGait]] = defaultdict(dict)
    seen = ("pronation", "tibial_rotation", "rearfoot_eversion", "fpi6")
    for fitting_id, foot, *values in FootObservation.objects.filter(fitting__in=pks).values_list(
        "fitting_id", "foot", *seen
    ):
        feet[fitting_id][foot] = FootGait(*values)
    told: dict[int, list[Complaint]] = defaultdict(list)
    columns = ("fitting_id", "region", "side", "now", "settled_on")
    for fitting_id, region, side, now, settled_on in HistoryItem.objects.filter(fitting__in=pks).values_list(*columns):
        told[fitting_id].append(Complaint(region, side or None, now, settled_on))
    return [
        assess(
            Person(
                use=fitting.use,
                body_mass_kg=fitting.body_mass_kg,
                left=feet[fitting.pk].get("left", FootGait()),
                right=feet[fitting.pk].get("right", FootGait()),
                hip_weak=fitting.hip_weak,
                history=tuple(told[fitting.pk]),
            ),
            rules,
        )
        for fitting in fittings
    ]


def _fared(user: User, needs: dict[int, Need], on: dt.date) -> Outcomes:
    """How people fared by whether the shoe they chose lay in their target then, and in the one tried."""
    scope = scope_of(user)
    rows = [(needs[row.fitting_id], row) for row in course_rows(scope.filter(), on=on) if row.fitting_id in needs]
    counts = counted(((row.in_target, need.contains(row.stability)), row) for need, row in rows)
    return finish(counts, FATES, scope, compares=False)
