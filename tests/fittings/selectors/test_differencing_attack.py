"""An attacker at head office who knows everybody's store, mass, shoe and days, and wants one person's recurrence."""

from __future__ import annotations

from collections import defaultdict
from itertools import combinations, product

import numpy as np
import pytest
from django.utils import timezone

from core.models import Membership
from fittings.domain.fitting.need import N1
from fittings.domain.fitting.rules_data import rules_to_data
from fittings.models import Course
from fittings.presentation.outcomes import curve_csv_rows, group_rows
from fittings.selectors.courses import OutcomeFilter, course_rows
from fittings.selectors.outcomes import outcomes_for, scope_of
from fittings.selectors.released import quarter_of, quarter_start, released, released_until
from fittings.services.rules import need_rules_discard, need_rules_draft
from fittings.services.rules_trial import rules_try
from tests.fittings.many_people import make_people

PEOPLE, QUARTERS = 420, 7
MARGIN = 0.1
"""How much more often than by guessing the more common answer the attacker may be right."""


@pytest.fixture
def practice(cast, make_shoe):
    return make_people(cast, make_shoe, PEOPLE, QUARTERS)


def filters():
    """Four hundred selections and more: stores, uses, shoes' bands and periods, each set side by side three ways."""
    last = quarter_of(released_until(timezone.localdate()))
    periods = [(None, None), *combinations((quarter_start(last - n) for n in range(QUARTERS, -1, -1)), 2)]
    places = product((None, 0, 1), (None, 1, 3, 5), ("", "running", "walking"), periods)
    return [
        (store, {"band": band, "use": use, "since": since, "until": until}, "target")
        for store, band, use, (since, until) in places
    ]


def cells_read(user, asked):
    """What the attacker sees: for each group its members at risk, as the attacker knows them, and its recurrences."""
    today = timezone.localdate()
    seen = []
    for store, given, by in asked:
        scope = scope_of(user)
        stores = scope.stores if store is None else scope.stores[store : store + 1]
        wanted = OutcomeFilter(tuple(item.pk for item in stores), **{k: v for k, v in given.items() if v})
        with scope.opened():
            shown = released(wanted, by, on=today).wanted if scope.hides else wanted
            courses = list(course_rows(shown, on=today))
        found = outcomes_for(user, wanted=wanted, by=by)
        for group, inside in zip(found.groups, (True, False), strict=True):
            if group.recurrences is not None:
                members = frozenset(item.fitting_id for item in courses if item.in_target == inside)
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


def test_filters_set_against_each_other_tell_nothing_of_a_person(cast, practice):
    recurred = dict(Course.objects.values_list("fitting_id", "recurred"))
    guessing = 1 - np.mean(list(recurred.values()))
    asked = [filters()[n] for n in np.random.default_rng(7).permutation(len(filters()))[:440]]
    # Somebody who may see both stores whole shows what the attack can do.
    whole = cast.manager_a
    Membership.objects.create(user=whole, role="manager", store=cast.store_b)
    exact = attack(cells_read(whole, asked), recurred)
    assert len(exact) > 8
    assert all(exact)
    cells = cells_read(cast.office, asked)
    assert len(cells) > 20
    right = attack(cells, recurred)
    # Who can't be told apart is guessed.
    accuracy = (sum(right) + guessing * (len(recurred) - len(right))) / len(recurred)
    assert len(right) <= 2
    assert accuracy <= guessing + MARGIN


def test_days_set_against_each_other_tell_nothing_of_a_person(cast, practice, chosen):
    def pages():
        found = [outcomes_for(cast.office, by=by) for by in ("target", "band", "store")]
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
