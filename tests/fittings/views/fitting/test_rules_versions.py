"""Versions of the rules: drafted, tried on past fittings, adopted; what was fitted before stays as it was."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from core.audit.verification import faults
from core.domain.errors import DomainError
from core.models import AuditEntry
from fittings.domain.fitting.need import N1
from fittings.domain.fitting.rules_data import rules_to_data
from fittings.forms.fitting.rules import initial_of
from fittings.models import NeedRules
from fittings.selectors.fitting.recommendations import request_of_fitting
from fittings.selectors.fitting.rules_trial import rules_trial
from fittings.services.fitting.rules import need_rules_adopt, need_rules_discard, need_rules_draft

OTHER = {name: value for name, value in rules_to_data(N1).items() if name != "version"}


@pytest.fixture
def draft(cast):
    def make(version="N2", match=None, reason="tried", **changes):
        return need_rules_draft(
            actor=cast.office, version=version, data=OTHER | changes, match=match or {}, reason=reason
        )

    return make


@pytest.fixture
def current(db):
    return NeedRules.objects.get(is_current=True)


def posted(current, **changes):
    given = initial_of(current) | {"version": "N2", "reason": "More for the heel"} | changes
    return {name: value for name, value in given.items() if value is not None}


def test_draft_changes_nothing_until_it_is_adopted(cast, draft, make_fitting):
    rules = draft(base=50.0)
    assert make_fitting().need_centre == 65
    need_rules_adopt(actor=cast.office, rules=rules, reason="agreed by all stores")
    fitting = make_fitting(name="Bea")
    assert (fitting.rules.version, fitting.need_centre) == ("N2", 70)
    assert [rules.version for rules in NeedRules.objects.filter(is_current=True)] == ["N2"]


def test_past_fitting_keeps_the_rules_it_was_made_by(cast, draft, make_fitting, make_shoe):
    fitting = make_fitting()
    rules = draft(base=50.0, match={"drop_change_warned_mm": 9.0})
    need_rules_adopt(actor=cast.office, rules=rules, reason="agreed")
    fitting.refresh_from_db()
    assert (fitting.rules.version, fitting.need_centre) == ("N1", 65)
    assert request_of_fitting(fitting).rules.drop_change_warned_mm == 4.0
    assert request_of_fitting(make_fitting(name="Bea")).rules.drop_change_warned_mm == 9.0


def test_every_step_is_in_the_trail_and_the_trail_is_whole(cast, draft):
    first = NeedRules.objects.get(version="N1")
    rules = draft()
    need_rules_adopt(actor=cast.office, rules=rules, reason="agreed")
    need_rules_discard(actor=cast.office, rules=draft("N3"), reason="no use")
    need_rules_adopt(actor=cast.office, rules=first, reason="back to the first")
    found = list(
        AuditEntry.objects.filter(object_type="fittings.needrules").order_by("id").values_list("action", flat=True)
    )
    assert [action.rsplit(".", 1)[1] for action in found] == [
        "created",
        "drafted",
        "replaced",
        "adopted",
        "drafted",
        "discarded",
        "replaced",
        "adopted",
    ]
    assert not list(faults())


@pytest.mark.parametrize("who", ["fitter_a", "manager_a", "reviewer"])
def test_only_head_office_changes_rules(cast, draft, who):
    rules = draft()
    with pytest.raises(DomainError) as refused:
        need_rules_adopt(actor=cast.members()[who], rules=rules, reason="mine")
    assert refused.value.status == 403


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"version": "N1"}, "already exists"),
        ({"half_width": -3}, "half_width must be a number"),
        ({"match": {"nearest_shown": 0}}, "nearest_shown"),
        ({"regions": ["tail"]}, "region must be one of"),
        ({"reason": "  "}, "Give a reason"),
    ],
)
def test_bad_draft_is_refused_by_name(draft, given, words):
    with pytest.raises(DomainError, match=words):
        draft(**given)


def test_version_in_use_can_neither_be_adopted_again_nor_discarded(cast, current):
    for deed, code in ((need_rules_adopt, "already_current"), (need_rules_discard, "was_adopted")):
        with pytest.raises(DomainError) as refused:
            deed(actor=cast.office, rules=current, reason="again")
        assert refused.value.code == code


def test_dry_run_says_how_many_move_and_how_they_fared(
    cast, draft, chosen, without_noise, django_assert_max_num_queries
):
    for number in range(12):
        chosen(at=timezone.now() - dt.timedelta(weeks=45), name=f"Person {number}", email="")
    rules = draft(pronation=[0, 5, 16, 20])
    with django_assert_max_num_queries(13):
        found = rules_trial(cast.office, rules)
    assert (found.trial.n, found.trial.moved, found.trial.mean_shift) == (12, 12, 4.0)
    assert found.trial.another_band == 0
    assert [(group.name, group.people) for group in found.fared.groups] == [("In both targets", 12)]
    assert not NeedRules.objects.get(version="N2").is_current


def test_same_rules_move_nobody(cast, draft, make_fitting, without_noise):
    make_fitting(at=timezone.now() - dt.timedelta(weeks=45))
    found = rules_trial(cast.office, draft())
    assert (found.trial.n, found.trial.moved, found.trial.widened) == (1, 0, 0)


def test_office_drafts_tries_and_adopts_on_the_pages(cast, sign_in, current, chosen, without_noise):
    for number in range(12):
        chosen(at=timezone.now() - dt.timedelta(weeks=45), name=f"Person {number}", email="")
    client = sign_in(cast.office)
    assert b"N1" in client.get("/outcomes/rules/").content
    assert client.get("/outcomes/rules/new/").context["form"]["base"].value() == 45.0
    made = client.post("/outcomes/rules/new/", posted(current, pronation_2="16.5"))
    rules = NeedRules.objects.get(version="N2")
    assert (made.status_code, made.url) == (302, f"/outcomes/rules/{rules.pk}/")
    assert rules.data == rules_to_data(N1) | {
        "version": "N2",
        "pronation": [0.0, 5.0, 16.5, 20.0],
        "tibial_rotation": [0.0, 3.0, 6.0, 9.0],
        "rearfoot_eversion": [0.0, 3.0, 6.0, 9.0],
        "fpi6_at_least": [[10.0, 4.0], [6.0, 2.0]],
        "running_mass_above_kg": [[95.0, 8.0], [82.0, 4.0]],
        "regions": ["heel", "inner_shin", "front_of_knee"],
    }
    page = client.get(made.url).content.decode()
    assert "12 fittings since" in page
    assert "none 0, slight 5, moderate 16.5, marked 20" in page
    assert "changed" in page
    table = client.get(f"{made.url}?as=csv").getvalue().decode().splitlines()
    assert table[0] == "what,before,after,people"
    assert "shift_points,,5,12" in table
    assert client.post(f"{made.url}adopt/", {"reason": ""}).status_code == 400
    assert client.post(f"{made.url}adopt/", {"reason": "agreed"}).status_code == 302
    assert NeedRules.objects.get(is_current=True).version == "N2"
    again = client.post(f"{made.url}adopt/", {"reason": "agreed"})
    assert again.status_code == 409
    assert b"already in use" in again.content


def test_draft_can_be_discarded_on_its_page(cast, sign_in, draft):
    rules, client = draft(), sign_in(cast.office)
    assert client.post(f"/outcomes/rules/{rules.pk}/discard/", {"reason": "no use"}).status_code == 302
    assert not NeedRules.objects.filter(version="N2").exists()
    assert client.get(f"/outcomes/rules/{rules.pk}/").status_code == 404


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"version": "N1"}, "version"),
        ({"version": "\x00"}, "version"),
        ({"base": "nan"}, "base"),
        ({"half_width": "0"}, "half_width"),
        ({"pronation_1": ""}, "pronation_1"),
        ({"fpi6_at_least_2_from": "3"}, "fpi6_at_least_2_points"),
        ({"fpi6_at_least_2_from": "6", "fpi6_at_least_2_points": "1"}, "fpi6_at_least_2_from"),
        ({"regions": ["tail"]}, "regions"),
        ({"probability_step": "5"}, "probability_step"),
        ({"reason": ""}, "reason"),
    ],
)
def test_problem_stands_at_its_field_and_nothing_is_lost(cast, sign_in, current, change, field):
    answer = sign_in(cast.office).post("/outcomes/rules/new/", posted(current, **{"weak_hip": "7.25"} | change))
    assert answer.status_code == 400
    assert answer.context["form"].errors[field]
    assert answer.context["form"]["weak_hip"].value() == "7.25"
    assert not NeedRules.objects.filter(version="N2").exists()
