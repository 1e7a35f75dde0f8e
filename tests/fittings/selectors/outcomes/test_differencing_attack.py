"""An attacker at head office who knows everybody's store, mass, shoe and days, and wants one person's recurrence."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
import pytest
from django.utils import timezone

from core.models import Membership
from fittings.domain.fitting.need import N1
from fittings.domain.fitting.rules_data import rules_to_data
from fittings.models import Course, ShoeMovement
from fittings.presentation.outcomes.outcomes import curve_csv_rows, group_rows
from fittings.selectors.outcomes import noisy_counts
from fittings.selectors.outcomes.courses import OutcomeFilter
from fittings.selectors.outcomes.outcomes import group_names, outcomes_for, scope_of
from fittings.selectors.outcomes.released_people import quarter_of, quarter_start, released, released_until
from fittings.services.fitting.rules import need_rules_discard, need_rules_draft
from fittings.services.fitting.rules_trial import rules_try
from tests.fittings.many_people import make_people
from tests.shared import shared

PEOPLE, QUARTERS = 420, 7
MARGIN = 0.1
"""How much more often than by guessing the more common answer the attacker may be right."""


@shared
def practice(cast, make_shoe):
    return make_people(cast, make_shoe, PEOPLE, QUARTERS)


@dataclass(frozen=True)
class Known:
    """What the attacker knows of a person, the groups that they are in among it."""

    store: int
    band: int
    use: str
    chosen_on: dt.date
    groups: dict[str, str]

    def is_in(self, wanted):
        return (
            self.store in wanted.stores
            and wanted.band in (None, self.band)
            and wanted.use in ("", self.use)
            and (wanted.since is None or self.chosen_on >= wanted.since)
            and (wanted.until is None or self.chosen_on < wanted.until)
        )


def known_people(user):
    movement = dict(ShoeMovement.objects.values_list("fitting_id", "movement"))
    names = {by: group_names(by, scope_of(user)) for by in ("target", "movement")}
    rows = Course.objects.values_list("fitting_id", "store_id", "band__order", "use", "chosen_on", "in_target")
    return {
        who: Known(*said, {"target": names["target"][inside], "movement": names["movement"][movement.get(who, "none")]})
        for who, *said, inside in rows
    }


def filters():
    """Nine hundred selections: stores, uses, bands of shoes and periods, each set side by side three ways."""
    last = quarter_of(released_until(timezone.localdate()))
    periods = [(None, None), *combinations((quarter_start(last - n) for n in range(QUARTERS, -1, -1)), 2)]
    places = product((None, 0, 1), (None, 1, 3, 5), ("", "running", "walking"), periods)
    return [
        (store, {"band": band, "use": use, "since": since, "until": until})
        for store, band, use, (since, until) in places
    ]


def cells_read(user, asked, people, narrowed):
    """What the attacker sees: for each group its members, as the attacker knows them, and its recurrences."""
    seen = []
    scope = scope_of(user)
    for store, given, by in asked:
        stores = scope.stores if store is None else scope.stores[store : store + 1]
        wanted = OutcomeFilter(tuple(item.pk for item in stores), **{k: v for k, v in given.items() if v})
        narrowed.clear()
        found = outcomes_for(user, wanted=wanted, by=by)
        shown = narrowed[-1].wanted if narrowed else wanted
        inside = [who for who, person in people.items() if person.is_in(shown)]
        for group in found.groups:
            if group.recurrences is not None:
                members = frozenset(who for who in inside if people[who].groups[by] == group.name)
                seen.append((members, group.recurrences))
    return dict(seen)


def attack(cells, recurred):
    """For everybody whom two cells tell apart: whether the attacker is right, who averages over all such pairs."""
    votes = defaultdict(list)
    for (one, more), (other, fewer) in combinations(cells.items(), 2):
        apart = one ^ other
        if len(apart) == 1:
            (target,) = apart
            votes[target].append(more - fewer if target in one else fewer - more)
    return [(np.mean(said) > 0.5) == recurred[who] for who, said in votes.items()]


@pytest.fixture
def narrowed(monkeypatch):
    """Collect what each selection was narrowed to, instead of working it out a second time."""
    found = []

    def noted(*given, **options):
        found.append(released(*given, **options))
        return found[-1]

    monkeypatch.setattr(noisy_counts, "released", noted)
    return found


def test_filters_set_against_each_other_tell_nothing_of_a_person(cast, practice, narrowed):
    recurred = dict(Course.objects.values_list("fitting_id", "recurred"))
    guessing = 1 - np.mean(list(recurred.values()))
    every = filters()
    mixed = [every[n] for n in np.random.default_rng(7).permutation(len(every))]
    asked = [(*place, "target") for place in mixed[:440]] + [(*place, "movement") for place in mixed[440:600]]
    people = known_people(cast.office)
    # Somebody who may see both stores whole shows what the attack can do in either kind of group, with half of them.
    whole = cast.manager_a
    Membership.objects.create(user=whole, role="manager", store=cast.store_b)
    for some in (asked[:240], asked[440:520]):
        exact = attack(cells_read(whole, some, people, narrowed), recurred)
        assert len(exact) > 8
        assert all(exact)
    assert not narrowed
    cells = cells_read(cast.office, asked, people, narrowed)
    assert len(cells) > 20
    right = attack(cells, recurred)
    # Who can't be told apart is guessed.
    accuracy = (sum(right) + guessing * (len(recurred) - len(right))) / len(recurred)
    assert len(right) <= 2
    assert accuracy <= guessing + MARGIN


def test_days_set_against_each_other_tell_nothing_of_a_person(cast, practice, chosen):
    def pages():
        found = [outcomes_for(cast.office, by=by) for by in ("target", "band", "store", "movement")]
        return [(group_rows(page), curve_csv_rows(page)) for page in found]

    before = pages()
    chosen(at=timezone.now(), name="New", email="")
    Course.objects.filter(fitting__customer__name="New").update(
        entered_days=0, free_until_days=0, days=14, km=40.0, recurred=True, left_out=None
    )
    assert pages() == before


def test_drafts_set_against_each_other_tell_nothing_of_a_person(cast, practice):
    rules = {name: value for name, value in rules_to_data(N1).items() if name != "version"}
    masses = sorted({fitting.body_mass_kg for fitting in practice if fitting.use == "running"})
    shown, results = {}, {}
    for place, mass in enumerate(masses[30:150:12]):
        for side, threshold in (("below", mass - 0.05), ("above", mass + 0.05)):
            for what, data in (
                ("mass", {"running_mass_above_kg": [[95.0, 8.0], [threshold, 12.0]]}),
                ("width", {"half_width": 6.0 + place / 50 + (side == "above") / 1000}),
            ):
                name = f"{what}{place}{side}"
                draft = need_rules_draft(actor=cast.office, version=name, data=rules | data, match={}, reason="tried")
                trial = rules_try(actor=cast.office, rules=draft)
                need_rules_discard(actor=cast.office, rules=draft, reason="seen")
                if not trial.withheld:
                    shown[name], results[name] = trial.fared, frozenset(trial.results)
    assert len(shown) > 4
    for one, other in combinations(shown, 2):
        apart = len(results[one] - results[other])
        assert apart == 0 or apart >= 10
        if apart == 0:
            assert [group.recurrences for group in shown[one].groups] == [g.recurrences for g in shown[other].groups]
