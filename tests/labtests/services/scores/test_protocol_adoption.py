"""Protocols as data: drafted, judged by in a dry run, adopted by somebody else, never mixed on one scale."""

from __future__ import annotations

from dataclasses import replace

import pytest

from catalogue.models import ScoreCard
from core.audit import entries_of
from core.audit.verification import faults
from core.domain.errors import DomainError
from labtests import services
from labtests.domain.scores.protocol import CALIBRATED, P1, WORDS, Limit
from labtests.models import Protocol, ProtocolDraft, State
from labtests.selectors.scores.protocols import protocol_dry_run
from labtests.services import ProtocolGiven
from tests.labtests.bench_text import bench_bytes, curve_rows, readings_bytes
from tests.people import person

WARM = Limit(24.0, 23.0, 25.0)


def given_protocol(**change):
    """The standard protocol's numbers, but for what is changed."""
    limits = {name: getattr(P1, name) for name in WORDS}
    numbers = {
        "torsion_deg": P1.torsion_deg,
        "compression_n": P1.compression_n,
        "repeats_wanted": 1,
        "calibrations": CALIBRATED,
    }
    return ProtocolGiven(**{**limits, **numbers, **change})


def drafted(lab, **change):
    return services.protocol_draft_create(
        actor=person("author", "reviewer"), version="P2", given=given_protocol(**change), reason="a warmer room"
    )


def adopt(lab, draft, **more):
    given = {"actor": lab.reviewer, "draft": draft, "revision": draft.revision, "reason": "agreed", **more}
    return services.protocol_adopt(**given)


def refusal(service, *args, **kwargs):
    with pytest.raises(DomainError) as caught:
        service(*args, **kwargs)
    return caught.value


def test_standard_protocol_reads_from_its_row_what_the_domain_says(lab):
    assert Protocol.objects.get(version="P1").to_domain() == P1


def test_draft_has_no_effect_and_its_dry_run_names_what_it_would_hold(lab):
    cool = lab.accepted(specimen="F2-01")
    lab.accepted(specimen="F2-02", side="right", temperature="24 degC")
    run = protocol_dry_run(drafted(lab, temperature_c=WARM))
    assert run.judged == 2
    assert [(one.test, [reason.code for reason in one.reasons]) for one in run.held] == [(cool, ["temperature_c"])]
    assert lab.accepted(specimen="F2-03").state == State.ACCEPTED


@pytest.mark.parametrize(
    ("change", "codes"),
    [
        ({"repeats_wanted": 4}, ["repeats"]),
        ({"torsion_deg": 25.0}, ["torsion_short"] * 3),
        ({"compression_n": 600.0}, ["compression_short"] * 3),
        ({"torsion_deg": 10.0}, []),
        ({"heel_clamp_n": Limit(500.0, 490.0, 510.0)}, ["heel_clamp_n"]),
    ],
)
def test_dry_run_and_judging_agree_on_what_is_held(lab, change, codes):
    lab.accepted(specimen="F2-01")
    draft = drafted(lab, **change)
    assert [reason.code for one in protocol_dry_run(draft).held for reason in one.reasons] == codes
    adopt(lab, draft)
    test = lab.accepted(specimen="F2-02", side="right")
    assert [reason["code"] for reason in test.reasons] == codes
    assert test.protocol.version == "P2"


def test_angle_and_load_of_the_protocol_are_read(lab):
    adopt(lab, drafted(lab, torsion_deg=7.5, compression_n=224.91108076302))
    test = lab.accepted()
    # Straight curves: half the torque at half the angle, half the deflection half way from 5 N to the standard load.
    assert test.torque_15_nm == pytest.approx(5.1 / 2)
    assert test.deflection_mm == pytest.approx(5.9 / 2)
    assert test.results.get().stability_u is not None


def test_readings_file_is_held_where_the_protocol_reads_elsewhere(lab):
    adopt(lab, drafted(lab, torsion_deg=10.0))
    test = lab.upload(readings_bytes(), name="readings.csv").tests.get()
    assert [reason["code"] for reason in test.reasons] == ["readings_target"]


def test_calibrations_that_are_not_needed_are_not_asked_for(lab):
    adopt(lab, drafted(lab, calibrations=("force", "torque", "displacement", "angle")))
    thermometer = lab.rig.calibrations.get(quantity="temperature")
    services.calibration_strike(actor=lab.reviewer, calibration=thermometer, reason="broken")
    assert lab.accepted().state == State.ACCEPTED


def test_somebody_else_adopts_what_they_have_seen(lab):
    draft = drafted(lab)
    error = refusal(adopt, lab, draft, actor=draft.author)
    assert (error.code, error.status) == ("own_draft", 403)
    services.protocol_draft_edit(
        actor=draft.author, draft=draft, revision=1, given=given_protocol(temperature_c=WARM), reason="less"
    )
    assert refusal(adopt, lab, draft).code == "draft_changed"
    protocol = adopt(lab, ProtocolDraft.objects.get())
    assert Protocol.objects.get(is_current=True) == protocol
    assert protocol.to_domain() == replace(P1, version="P2", temperature_c=WARM)
    assert refusal(adopt, lab, ProtocolDraft.objects.get()).code == "not_open"
    assert [entry.action for entry in entries_of(protocol)] == ["labtests.protocol.adopted"]
    assert list(faults()) == []


def test_draft_for_another_protocol_than_the_one_in_use_is_stale(lab):
    stale = drafted(lab)
    other = services.protocol_draft_create(
        actor=person("second", "reviewer"), version="P3", given=given_protocol(repeats_wanted=3), reason="more"
    )
    adopt(lab, other)
    assert refusal(adopt, lab, stale).code == "stale_draft"


def test_scores_of_two_protocols_are_not_mixed(lab):
    old = lab.approved(specimen="F2-01")
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first tests")
    draft = drafted(lab, repeats_wanted=2)
    error = refusal(adopt, lab, draft)
    assert (error.code, error.status) == ("cards_would_go", 409)
    assert error.fields["withdraw"] == ["Fenwright Fenrunner 2"]
    adopt(lab, draft, withdraw=True)
    assert not ScoreCard.objects.filter(is_current=True).exists()
    assert ProtocolDraft.objects.get().withdrawn == ["fenrunner-2"]
    words = refusal(services.shoe_publish, actor=lab.reviewer, shoe=lab.shoe, reason="again").message
    assert f"test {old.pk} of F2-01 is left out: tested by the earlier protocol P1" in words
    lab.approved(specimen="F2-02", side="right")
    card = services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="by the new protocol")
    assert (card.protocol, card.specimens) == ("P2", 1)
    old.refresh_from_db()
    assert (old.protocol.version, old.state) == ("P1", State.APPROVED)
    assert list(faults()) == []


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"temperature_c": Limit(23.0, 25.0, 21.0)}, "temperature_c"),
        ({"temperature_c": Limit(float("nan"), 21.0, 25.0)}, "temperature_c"),
        ({"heel_clamp_n": Limit(100.0, -5.0, 200.0)}, "heel_clamp_n"),
        ({"torsion_deg": 0.0}, "torsion_deg"),
        ({"torsion_deg": float("nan")}, "torsion_deg"),
        ({"compression_n": 5.0}, "compression_n"),
        ({"compression_n": float("inf")}, "compression_n"),
        ({"repeats_wanted": 0}, "repeats_wanted"),
        ({"calibrations": ()}, "calibrations"),
        ({"calibrations": ("force", "colour")}, "calibrations"),
    ],
)
def test_protocol_that_makes_no_sense_is_refused(lab, change, field):
    error = refusal(drafted, lab, **change)
    assert (error.code, list(error.fields)) == ("bad_protocol", [field])
    assert not ProtocolDraft.objects.exists()


def test_version_is_taken_once_and_only_the_author_changes_a_draft(lab):
    draft = drafted(lab)
    for version in ("P1", "P2"):
        error = refusal(
            services.protocol_draft_create, actor=lab.reviewer, version=version, given=given_protocol(), reason="x"
        )
        assert error.status in (400, 409)
    error = refusal(
        services.protocol_draft_edit,
        actor=lab.reviewer,
        draft=draft,
        revision=1,
        given=given_protocol(),
        reason="mine",
    )
    assert (error.code, error.status) == ("not_your_draft", 403)
    services.protocol_draft_discard(actor=lab.reviewer, draft=draft, reason="not needed")
    assert refusal(services.protocol_draft_discard, actor=lab.reviewer, draft=draft, reason="again").code == "not_open"


def test_dry_run_takes_as_many_queries_with_more_tests(lab, django_assert_max_num_queries):
    for number, side in enumerate(("left", "right", "left")):
        rows = curve_rows([(5.1, 5.9), (5.12, 5.92)])
        lab.upload(bench_bytes(rows, specimen=f"F2-1{number}", side=side), name=f"{number}.csv")
    draft = drafted(lab, torsion_deg=10.0)
    with django_assert_max_num_queries(6):
        assert protocol_dry_run(draft).judged == 3
