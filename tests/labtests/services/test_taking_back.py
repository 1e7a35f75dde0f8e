"""Voiding and replacing published tests: the card follows in the same transaction."""

from __future__ import annotations

import pytest

from catalogue.models import IncidentNotice, ScoreCard, Shoe
from core.audit import entries_of
from core.audit.verification import faults
from core.domain.errors import DomainError
from labtests import services
from labtests.models import BenchTest
from labtests.selectors.scores.taking_back import changes_without
from tests.labtests.bench_text import bench_bytes, curve_rows
from tests.shared import shared


@shared
def published(lab):
    """A shoe published from two specimens; returns the lab, the two tests and the card."""
    tests = [lab.approved(specimen="F2-01", torque_15=5.0), lab.approved(specimen="F2-02", torque_15=5.6)]
    card = services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="both agree")
    return lab, tests, card


def current(lab):
    return ScoreCard.objects.filter(shoe=lab.shoe, is_current=True).first()


def corrected(torque_15=5.3, **header):
    return bench_bytes(curve_rows([(torque_15, 5.9)] * 3), **header)


def test_card_is_worked_out_again_from_the_tests_that_remain(published):
    lab, (gone, left), old = published
    services.bench_test_void(actor=lab.reviewer, test=gone, reason="clamp slipped")
    card = current(lab)
    assert card.pk != old.pk
    assert (card.specimens, card.is_provisional) == (1, True)
    result = left.results.get()
    assert card.stability == pytest.approx(result.stability, rel=1e-12)
    assert card.stability_u == pytest.approx(result.stability_u, rel=1e-12)
    assert card.reason == f"Worked out again without test {gone.pk}: clamp slipped"
    assert list(faults()) == []


def test_card_worked_out_again_is_what_publishing_would_make(published):
    lab, (gone, _), _ = published
    services.bench_test_void(actor=lab.reviewer, test=gone, reason="clamp slipped")
    after = current(lab)
    by_hand = services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="once more")
    same = ("band_id", "specimens", "tested_on", "protocol", "scoring_model", "is_borderline", "neighbour_id")
    assert [getattr(after, name) for name in same] == [getattr(by_hand, name) for name in same]
    for name in ("stability", "midfoot_u", "rearfoot", "cushioning_u", "band_probability"):
        assert getattr(after, name) == pytest.approx(getattr(by_hand, name), rel=1e-9)


def test_card_without_tests_is_withdrawn_at_once(published):
    lab, tests, old = published
    for test in tests:
        services.bench_test_void(actor=lab.reviewer, test=test, reason="wrong midsole")
    assert current(lab) is None
    last = ScoreCard.objects.filter(shoe=lab.shoe).withdrawn().get()
    assert last.withdrawn_because == "wrong midsole"
    assert entries_of(last).first().action == "catalogue.score_card.withdrawn"
    assert list(Shoe.objects.withdrawn()) == [lab.shoe]
    old.refresh_from_db()
    assert old.withdrawn_at is None
    assert list(faults()) == []


def test_shoe_comes_back_with_a_new_publication(published):
    lab, tests, _ = published
    for test in tests:
        services.bench_test_void(actor=lab.reviewer, test=test, reason="wrong midsole")
    lab.approved(specimen="F2-03")
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="new pair")
    assert list(Shoe.objects.withdrawn()) == []
    assert list(Shoe.objects.published()) == [lab.shoe]


def test_test_approved_after_the_publication_does_not_hold_the_card(published):
    lab, tests, _ = published
    lab.approved(specimen="F2-03")
    for test in tests:
        services.bench_test_void(actor=lab.reviewer, test=test, reason="wrong midsole")
    # The second void worked the card out again from the tests that count, the third specimen among them.
    assert current(lab).specimens == 1


def test_card_of_one_test_is_withdrawn_though_a_later_one_was_approved(lab):
    only = lab.approved(specimen="F2-01")
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first")
    lab.approved(specimen="F2-02")
    services.bench_test_void(actor=lab.reviewer, test=only, reason="wrong midsole")
    assert current(lab) is None


def test_card_is_withdrawn_where_the_remaining_tests_may_not_be_published(published):
    lab, (gone, _), _ = published
    services.rig_stop(actor=lab.technician, rig=lab.rig, reason="arm loose")
    (change,) = changes_without([gone.pk])
    assert change.then is None
    assert "Rig rig-1 is stopped" in change.refusals[0]
    services.bench_test_void(actor=lab.reviewer, test=gone, reason="clamp slipped")
    assert current(lab) is None


def test_waiting_test_changes_no_card(published):
    lab, _, old = published
    waiting = lab.accepted(specimen="F2-03")
    assert changes_without([waiting.pk]) == ()
    services.bench_test_void(actor=lab.reviewer, test=waiting, reason="clamp slipped")
    assert current(lab) == old


def test_effect_is_known_before_and_costs_the_same_for_many(published, django_assert_max_num_queries):
    lab, tests, old = published
    with django_assert_max_num_queries(16):
        (change,) = changes_without([test.pk for test in tests])
    assert (change.now.slug, change.then) == (lab.shoe.slug, None)
    assert current(lab) == old


def test_approved_test_counts_until_its_successor_is_accepted(published):
    lab, (replaced, _), old = published
    successor = services.bench_test_amend(
        actor=lab.technician, test=replaced, name="b.csv", data=corrected(), reason="torque offset"
    )
    replaced.refresh_from_db()
    assert (replaced.state, successor.state, successor.amends) == ("approved", "accepted", replaced)
    assert current(lab) == old
    assert entries_of(replaced).first().action == "labtests.test.replacement_submitted"
    services.bench_test_approve(actor=lab.reviewer, test=successor, reason="offset corrected")
    replaced.refresh_from_db()
    assert replaced.state == "void"
    assert replaced.review_reason == f"amended by test {successor.pk}: offset corrected"
    card = current(lab)
    assert (card.specimens, card.pk != old.pk) == (2, True)
    assert card.stability != old.stability
    assert list(faults()) == []


def test_author_of_the_successor_does_not_accept_it(published):
    from tests.people import person

    lab, (replaced, _), old = published
    author = person("second-reviewer", "reviewer")
    successor = services.bench_test_amend(
        actor=author, test=replaced, name="b.csv", data=corrected(), reason="torque offset"
    )
    with pytest.raises(DomainError, match="you uploaded it"):
        services.bench_test_approve(actor=author, test=successor, reason="")
    assert current(lab) == old


def test_successor_of_the_only_test_keeps_the_shoe_published(lab):
    only = lab.approved()
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first")
    successor = services.bench_test_amend(
        actor=lab.technician, test=only, name="b.csv", data=corrected(), reason="torque offset"
    )
    services.bench_test_approve(actor=lab.reviewer, test=successor, reason="")
    assert current(lab).stability == pytest.approx(successor.results.get().stability, rel=1e-12)


def test_second_replacement_waits_for_the_first(published):
    lab, (replaced, _), _ = published
    first = services.bench_test_amend(
        actor=lab.technician, test=replaced, name="b.csv", data=corrected(), reason="torque offset"
    )
    with pytest.raises(DomainError, match=f"Test {first.pk} already waits to replace test {replaced.pk}") as caught:
        services.bench_test_amend(
            actor=lab.technician, test=replaced, name="c.csv", data=corrected(5.4), reason="again"
        )
    assert caught.value.status == 409
    services.bench_test_void(actor=lab.reviewer, test=first, reason="the wrong file")
    second = services.bench_test_amend(
        actor=lab.technician, test=replaced, name="c.csv", data=corrected(5.4), reason="again"
    )
    assert BenchTest.objects.get(amends=replaced) == second
    assert list(faults()) == []


def test_corrected_successor_takes_its_place_before_the_approved_test(published):
    lab, (replaced, _), _ = published
    first = services.bench_test_amend(
        actor=lab.technician, test=replaced, name="b.csv", data=corrected(), reason="torque offset"
    )
    second = services.bench_test_amend(
        actor=lab.technician, test=first, name="c.csv", data=corrected(5.4), reason="typing error"
    )
    first.refresh_from_db()
    assert (first.state, first.amends, second.amends) == ("void", None, replaced)
    services.bench_test_approve(actor=lab.reviewer, test=second, reason="")
    replaced.refresh_from_db()
    assert replaced.state == "void"
    assert list(faults()) == []


def test_successor_outside_the_protocol_ends_the_card(lab):
    only = lab.approved()
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first")
    successor = services.bench_test_amend(
        actor=lab.technician, test=only, name="b.csv", data=corrected(temperature="30 degC"), reason="was warm"
    )
    services.bench_test_keep_on_record(actor=lab.reviewer, test=successor, reason="on record as it was")
    assert current(lab) is None


def noticed():
    rows = IncidentNotice.objects.order_by("pk").prefetch_related("cards")
    return [(row.reason, {card.score_card_id for card in row.cards.all()}) for row in rows]


def test_void_informs_the_stores_of_every_card_that_rested_on_the_test(published):
    lab, (gone, _), old = published
    later = services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="once more")
    services.bench_test_void(actor=lab.reviewer, test=gone, reason="clamp slipped")
    assert noticed() == [("clamp slipped", {old.pk, later.pk})]
    notice = IncidentNotice.objects.get()
    assert (notice.by, entries_of(notice).get().content["reason"]) == (lab.reviewer, "clamp slipped")
    assert list(faults()) == []


def test_one_decision_on_several_tests_names_each_card_once(published):
    lab, tests, old = published
    services.bench_tests_decide(actor=lab.reviewer, tests=tests, decision="void", reason="wrong midsole")
    named = [card for _, cards in noticed() for card in cards]
    assert named.count(old.pk) == 1
    assert len(named) == len(set(named))


def test_accepted_successor_informs_the_stores_and_a_waiting_one_does_not(published):
    lab, (old_test, _), card = published
    services.bench_test_amend(
        actor=lab.technician,
        test=old_test,
        name="b.csv",
        data=corrected(specimen="F2-01"),
        reason="typed wrongly",
    )
    assert noticed() == []
    successor = BenchTest.objects.get(amends=old_test)
    services.bench_test_approve(actor=lab.reviewer, test=successor, reason="")
    assert noticed() == [(f"Test {old_test.pk} was replaced by test {successor.pk}.", {card.pk})]


def test_test_without_a_published_card_informs_nobody(lab):
    services.bench_test_void(actor=lab.reviewer, test=lab.approved(specimen="F2-09"), reason="clamp slipped")
    assert noticed() == []
