"""Notices of incidents: each store sees its own people, the laboratory sees counts."""

from __future__ import annotations

from django.urls import reverse
from django.utils import timezone

from catalogue.models import Scale, ScoreCard
from catalogue.selectors.stock import cards_in_use
from catalogue.services import incident_notice_send, print_run_record, print_run_withdraw, score_cards_replace
from core import audit
from core.gate import row_scope
from core.web import display
from fittings import services
from fittings.models import Choice, NoticeTick
from fittings.services.people import privacy
from tests.shared import shared


@shared
def noticed(chosen, cast):
    """A fitting in each store that ended in the same shoe, and a notice about its scores."""
    fittings = [chosen(), chosen(actor=cast.fitter_b, store=cast.store_b, name="Bo Example", email="bo@example.org")]
    card = ScoreCard.objects.get()
    return fittings, incident_notice_send(
        actor=cast.reviewer, score_cards=[card.pk], reason="the torque cell had drifted", at=timezone.now()
    )


def listed(client, name, *args):
    response = client.get(reverse(f"fittings:{name}", args=args))
    assert response.status_code == 200
    return response.content.decode()


def test_store_sees_whom_to_inform_and_nobody_else(noticed, sign_in, cast):
    _, notice = noticed
    text = listed(sign_in(cast.fitter_a), "notice-detail", notice.pk)
    assert "Ada Example" in text
    assert "ada@example.org" in text
    assert "Bo Example" not in text
    other = listed(sign_in(cast.fitter_b), "notice-detail", notice.pk)
    assert "Bo Example" in other
    assert "Ada Example" not in other


def test_list_counts_the_fittings_of_the_own_store(noticed, sign_in, cast, django_assert_max_num_queries):
    client = sign_in(cast.manager_a)
    with django_assert_max_num_queries(9):
        text = listed(client, "notice-list")
    assert "the torque cell had drifted" in text
    assert '<td data-label="Fittings of your store" class="num">1</td>' in text


def test_page_takes_the_same_queries_for_many_people(noticed, chosen, sign_in, cast, django_assert_max_num_queries):
    for number in range(3):
        chosen(name=f"Person {number}", email=f"p{number}@example.org")
    client = sign_in(cast.fitter_a)
    with django_assert_max_num_queries(12):
        text = listed(client, "notice-detail", noticed[1].pk)
    assert "Person 2" in text


def test_notice_shows_what_is_published_now(noticed, sign_in, cast):
    client = sign_in(cast.fitter_a)
    assert ">withdrawn<" not in listed(client, "notice-detail", noticed[1].pk)
    shoe, scale = ScoreCard.objects.get().shoe_id, Scale.objects.get(version="S1")
    score_cards_replace(actor=cast.reviewer, scores={shoe: None}, scale=scale, reason="drift", at=timezone.now())
    assert ">withdrawn<" in listed(client, "notice-detail", noticed[1].pk)


def test_customer_is_ticked_off_with_who_and_when_and_the_tick_can_be_taken_away(noticed, sign_in, cast):
    _, notice = noticed
    choice = Choice.objects.get(fitting__store=cast.store_a)
    address = reverse("fittings:notice-informed", args=[notice.pk, choice.pk])
    client = sign_in(cast.fitter_a)
    assert "1 to inform" in listed(client, "notice-list")
    for _ in range(2):
        client.post(address, {"informed": "yes"})
    tick = NoticeTick.objects.get()
    assert (tick.is_informed, tick.by) == (True, cast.fitter_a)
    assert f"informed</span> {display.day(timezone.localdate())}, {cast.fitter_a.display_name}" in listed(
        client, "notice-detail", notice.pk
    )
    assert "all informed" in listed(client, "notice-list")
    assert "1 to inform" in listed(sign_in(cast.fitter_b), "notice-list")
    sign_in(cast.manager_a).post(address, {"informed": "no"})
    actions = [entry.action for entry in audit.entries_of(tick).order_by("id")]
    assert actions == ["fittings.notice.informed", "fittings.notice.reopened"]
    assert "1 to inform" in listed(client, "notice-list")


def test_tick_goes_with_its_customer(noticed, cast):
    fittings, notice = noticed
    choice = Choice.objects.get(fitting=fittings[0])
    services.notice_tick(actor=cast.fitter_a, notice=notice, choice=choice.pk, is_informed=True)
    privacy.customer_erase(actor=cast.manager_a, customer=fittings[0].customer, reason="in-person")
    assert not NoticeTick.objects.exists()


def test_store_ticks_off_its_own_customers_alone(noticed, sign_in, cast):
    _, notice = noticed
    other = Choice.objects.get(fitting__store=cast.store_b).pk
    assert sign_in(cast.fitter_a).post(reverse("fittings:notice-informed", args=[notice.pk, other])).status_code == 404
    assert not NoticeTick.objects.exists()


def test_store_is_informed_of_wall_cards_alone_until_others_hang(noticed, sign_in, cast, make_shoe):
    other = make_shoe("lantern-9")
    card = ScoreCard.objects.get(shoe=other, is_current=True)
    run = print_run_record(actor=cast.manager_a, store=cast.store_b, shoes=[other.pk], paper="a4", cards_per_sheet=4)
    notice = incident_notice_send(actor=cast.reviewer, score_cards=[card.pk], reason="clamp slipped", at=timezone.now())
    client = sign_in(cast.fitter_b)
    text = listed(client, "notice-list")
    assert "clamp slipped" in text
    assert "1 out of date" in text
    text = listed(client, "notice-detail", notice.pk)
    assert "Brand lantern-9, Store B, printed" in text
    assert "No customer of your store" in text
    assert sign_in(cast.fitter_a).get(reverse("fittings:notice-detail", args=[notice.pk])).status_code == 404
    print_run_withdraw(actor=cast.manager_a, run=run)
    assert "clamp slipped" not in listed(sign_in(cast.fitter_b), "notice-list")


def test_notice_of_other_stores_alone_is_not_there(chosen, sign_in, cast):
    chosen()
    notice = incident_notice_send(
        actor=cast.reviewer,
        score_cards=[ScoreCard.objects.get().pk],
        reason="the torque cell had drifted",
        at=timezone.now(),
    )
    client = sign_in(cast.fitter_b)
    assert client.get(reverse("fittings:notice-detail", args=[notice.pk])).status_code == 404
    assert "No notices" in listed(client, "notice-list")


def test_laboratory_and_head_office_see_no_people(noticed, sign_in, cast):
    for person in (cast.technician, cast.reviewer, cast.office):
        client = sign_in(person)
        assert client.get(reverse("fittings:notice-detail", args=[noticed[1].pk])).status_code == 403


def test_laboratory_counts_fittings_of_all_stores_without_any_in_scope(noticed, cast):
    cards = [ScoreCard.objects.get().pk]
    with row_scope.within(row_scope.NOTHING):
        count = cards_in_use.fittings_with(cards)
        assert row_scope._scope.get() == row_scope.NOTHING
    assert count == cards_in_use.FittingCount(2, 2, frozenset({cast.store_a.pk, cast.store_b.pk}))
    assert cards_in_use.fittings_with([]) == cards_in_use.NO_FITTINGS
