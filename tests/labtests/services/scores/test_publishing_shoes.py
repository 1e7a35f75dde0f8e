"""From approved tests to a published score card, and when it may not be."""

from __future__ import annotations

import datetime as dt
import math

import pytest

from catalogue.models import ScoreCard
from catalogue.services import shoe_create
from catalogue.standard import SCALE_S1
from core.audit.verification import faults
from core.domain.errors import DomainError
from labtests import services
from tests.labtests.bench_text import bench_bytes, curve_rows


def publish(lab, **given):
    return services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first tests", **given)


def refused(lab):
    with pytest.raises(DomainError) as caught:
        publish(lab)
    assert caught.value.status == 409
    assert not ScoreCard.objects.exists()
    return caught.value.fields["reasons"]


def test_two_specimens_make_a_card_of_their_mean(lab):
    first = lab.approved(specimen="F2-01", torque_15=5.0).results.get()
    second = lab.approved(specimen="F2-02", torque_15=5.2).results.get()
    card = publish(lab)
    assert card.stability == pytest.approx((first.stability + second.stability) / 2)
    assert card.midfoot == pytest.approx((first.midfoot + second.midfoot) / 2)
    assert card.stability_u > max(first.stability_u_b, second.stability_u_b)
    assert (card.specimens, card.is_provisional, card.is_current) == (2, False, True)
    assert (card.scoring_model, card.protocol, card.scale.version) == ("S1", "P1", "S1")
    assert card.tested_on == dt.date(2026, 3, 4)
    assert list(faults()) == []


def test_between_specimens_part_is_in_the_uncertainty(lab):
    lab.approved(specimen="F2-01", torque_15=4.0)
    lab.approved(specimen="F2-02", torque_15=5.0)
    stability = services.shoe_proposal(shoe=lab.shoe).scores["stability"]
    # Two means 2a apart have the variance 2a², over 2 specimens a².
    spread = 0.54 * 100 * 0.5 / 9.038783
    assert stability.u**2 - stability.common**2 == pytest.approx(spread**2)


def test_one_specimen_is_provisional(lab):
    lab.approved()
    assert publish(lab).is_provisional


def test_two_tests_of_one_specimen_are_one_specimen(lab):
    one = lab.approved(torque_15=5.0).results.get()
    two = lab.approved(torque_15=5.0004, performed="2026-03-05T10:15:00+00:00").results.get()
    card = publish(lab)
    assert card.specimens == 1
    assert card.stability == pytest.approx((one.stability + two.stability) / 2)
    assert card.stability_u < max(one.stability_u, two.stability_u)


def test_two_tests_of_one_specimen_that_disagree_are_not_sure(lab):
    one = lab.approved(torque_15=5.0).results.get()
    two = lab.approved(torque_15=5.6, performed="2026-03-05T10:15:00+00:00").results.get()
    card = publish(lab)
    half = (two.stability - one.stability) / 2
    assert card.stability_u == pytest.approx(math.hypot(half, one.stability_u_b), rel=0.02)


def test_a_single_specimen_is_less_sure_than_two_once_other_shoes_have_two(lab):
    other = shoe_create(actor=None, slug="other-shoe", brand=lab.shoe.brand, name="Other", version="1")
    for specimen, torque in (("F9-01", 5.0), ("F9-02", 5.3)):
        lab.approved(specimen=specimen, torque_15=torque, shoe=other.slug)
    services.shoe_publish(actor=lab.reviewer, shoe=other, reason="first tests")
    lab.approved(specimen="F2-01", torque_15=5.0)
    one = publish(lab)
    lab.approved(specimen="F2-02", torque_15=5.1)
    two = publish(lab)
    assert two.stability_u < one.stability_u
    # One shoe with two specimens is behind the first card, two are behind the second.
    assert 1.0 <= one.stability_df < 2.0
    assert two.stability_df > one.stability_df + 0.8


def test_the_proposal_says_what_publishing_then_writes(lab):
    lab.approved(specimen="F2-01", torque_15=5.0)
    lab.approved(specimen="F2-02", torque_15=5.2)
    before = services.shoe_proposal(shoe=lab.shoe)
    card = publish(lab)
    after = services.shoe_proposal(shoe=lab.shoe)
    for name in ("stability", "midfoot", "rearfoot", "cushioning"):
        written = getattr(card, name), getattr(card, f"{name}_u"), getattr(card, f"{name}_df")
        for proposal in (before, after):
            found = proposal.scores[name]
            assert (found.value, found.u, found.df) == pytest.approx(written, rel=1e-12)


def test_borderline_names_the_neighbour(lab):
    # S = 50 at M = 50 + 0.46 (…): take a torque that lands on the limit of the bands.
    rearfoot = 100 * (10 - 5.9) / 7
    torque = (50 - 0.46 * rearfoot) / 0.54 / 100 * 9.038783
    for specimen in ("F2-01", "F2-02"):
        lab.approved(specimen=specimen, torque_15=torque)
    card = publish(lab)
    assert card.is_borderline
    assert card.band_probability == pytest.approx(0.5, abs=0.02)
    assert {card.band.name, card.neighbour.name} == {SCALE_S1[0][1], SCALE_S1[1][1]}


def test_shoe_without_tests_is_refused(lab):
    assert refused(lab) == ["No approved test within the protocol counts for this shoe."]


def test_tests_that_do_not_count_are_named(lab):
    lab.accepted()
    held = lab.upload(bench_bytes(curve_rows([(4, 7)] * 3), specimen="F2-02", temperature="30 degC")).tests.get()
    services.bench_test_keep_on_record(actor=lab.reviewer, test=held, reason="seen")
    reasons = refused(lab)
    assert any("waiting for review" in reason for reason in reasons)
    assert any("F2-02 is left out: on record outside the protocol" in reason for reason in reasons)


def test_worn_specimen_does_not_count(lab):
    lab.approved(worn="300 km")
    assert any("was worn 300 km" in reason for reason in refused(lab))


def test_test_on_record_alone_is_left_out_of_the_mean(lab):
    approved = lab.approved().results.get()
    held = lab.upload(bench_bytes(curve_rows([(8, 4)] * 3), specimen="F2-02", temperature="30 degC")).tests.get()
    services.bench_test_keep_on_record(actor=lab.reviewer, test=held, reason="seen")
    assert publish(lab).stability == approved.stability


def test_stopped_rig_stops_publishing_until_cleared(lab):
    lab.approved()
    services.rig_stop(actor=lab.technician, rig=lab.rig, reason="check shoe drifted")
    assert refused(lab) == ["Rig rig-1 is stopped (check shoe drifted); a reviewer has to clear it first."]
    services.rig_clear(actor=lab.reviewer, rig=lab.rig, reason="sensor seated again")
    assert publish(lab).is_current


def test_publishing_again_retires_the_card_before(lab):
    lab.approved()
    first = publish(lab)
    lab.approved(specimen="F2-02")
    second = publish(lab, at=dt.datetime(2026, 3, 9, tzinfo=dt.UTC))
    first.refresh_from_db()
    assert (first.is_current, second.is_current) == (False, True)
    assert list(faults()) == []


def test_reason_is_required(lab):
    lab.approved()
    with pytest.raises(DomainError, match="reason"):
        services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason=" ")


def test_unknown_uncertainty_publishes_without_probability(lab):
    upload = lab.upload(bench_bytes(curve_rows([(5.1, 5.9)])))
    services.bench_test_approve(actor=lab.reviewer, test=upload.tests.get(), reason="")
    card = publish(lab)
    assert (card.stability_u, card.band_probability, card.is_borderline) == (None, None, False)
