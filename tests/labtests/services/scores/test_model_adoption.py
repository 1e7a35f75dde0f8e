"""Adopting a scoring model: everything rescored in one transaction, the old readable, the trail whole."""

from __future__ import annotations

import dataclasses

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from catalogue.models import Band, ScoreCard
from catalogue.selectors import band_list
from catalogue.standard import SCALE_S1
from core.audit.verification import faults
from core.domain.errors import DomainError
from core.gate.access import Role
from core.models import AuditEntry
from labtests import services
from labtests.domain.scores.model_rules import NUMBERS, BandText
from labtests.domain.scores.scoring import SCORES, score
from labtests.models import Adoption, BenchTest, DraftState, ModelDraft, Result, ScoringModel
from tests.people import person
from tests.shared import shared

THREE = [
    BandText("Soft", 45.0, "some"),
    BandText("Middle", 65.0, "others", 90.0),
    BandText("Hard", None, "the rest"),
]


def numbers_of(model, **changes):
    return {name: getattr(model, name) for name in NUMBERS} | changes


@shared
def author(cast):
    """A second reviewer, who drafts."""
    return person("author", Role.REVIEWER)


def drafted(author, version="S2", **changes):
    model = ScoringModel.objects.get(is_current=True)
    draft = services.model_draft_create(actor=author, version=version, reason="new references", source=model)
    if not changes:
        return draft
    bands = changes.pop("bands", THREE)
    numbers = numbers_of(model, **changes)
    return services.model_draft_edit(
        actor=author, draft=draft, revision=draft.revision, numbers=numbers, bands=bands, reason="new references"
    )


def adopt(lab, draft, **given):
    given = {"actor": lab.reviewer, "revision": draft.revision, "reason": "agreed by the lab", **given}
    return services.model_adopt(draft=draft, **given)


def refused(lab, draft, code, **given):
    with pytest.raises(DomainError) as caught:
        adopt(lab, draft, **given)
    assert caught.value.code == code
    assert ScoringModel.objects.get(is_current=True).version == "S1"
    assert not Result.objects.filter(adoption__isnull=False).exists()
    return caught.value


@shared
def published(lab):
    for specimen, torque in (("F2-01", 5.0), ("F2-02", 5.2)):
        lab.approved(specimen=specimen, torque_15=torque)
    return services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first tests")


def test_results_stand_beside_the_old_ones_and_nothing_is_out_of_the_trail(lab, published, author):
    before = list(Result.objects.order_by("pk").values())
    draft = drafted(author, torque_100_nm=8.0, weight_midfoot=0.6, weight_rearfoot=0.4)
    adoption = adopt(lab, draft)
    assert list(Result.objects.filter(scoring_model__version="S1").order_by("pk").values()) == before
    model = ScoringModel.objects.get(is_current=True)
    assert (model.version, model.author, adoption.tests, adoption.cards) == ("S2", author, 2, 1)
    for test in BenchTest.objects.all():
        result = test.results.get(scoring_model=model)
        wanted = score(test.torque_15_nm, test.deflection_mm, test.work_j, model=model.to_domain())
        assert all(getattr(result, name) == getattr(wanted, name) for name in SCORES)
        assert result.adoption == adoption
    assert list(faults()) == []


def test_uncertainties_are_those_of_an_upload_under_the_new_model(lab, published, author):
    draft = drafted(author, torque_100_nm=8.0, deflection_100_mm=2.5, weight_midfoot=0.6, weight_rearfoot=0.4)
    adopt(lab, draft)
    # The same readings, uploaded again, are scored by the new model from the start.
    fresh = lab.accepted(specimen="F2-03", torque_15=5.0).results.get()
    moved = Result.objects.get(test__specimen__code="F2-01", scoring_model=fresh.scoring_model)
    for name in SCORES:
        for end in ("", "_u", "_u_a", "_u_b"):
            assert getattr(moved, name + end) == pytest.approx(getattr(fresh, name + end), rel=1e-9)
    assert fresh.adoption is None
    assert moved.correlation_rearfoot_cushioning == pytest.approx(fresh.correlation_rearfoot_cushioning)


def test_card_is_made_again_on_the_new_scale_in_the_same_breath(lab, published, author):
    draft = drafted(author, torque_100_nm=8.0)
    proposal = services.draft_dry_run(draft).shoes[0]
    adopt(lab, draft)
    card = ScoreCard.objects.get(is_current=True)
    assert (card.scoring_model, card.scale.version, card.band.name) == ("S2", "S2", proposal.then.band_name)
    alone = services.shoe_proposal(shoe=lab.shoe)
    for name in SCORES:
        assert getattr(card, name) == pytest.approx(alone.scores[name].value, rel=1e-12)
        assert getattr(card, f"{name}_u") == pytest.approx(alone.scores[name].u, rel=1e-12)
    assert card.band_probability == pytest.approx(alone.placement.probability, rel=1e-12)
    assert card.specimens == 2
    assert [band.name for band in band_list()] == ["Soft", "Middle", "Hard"]
    published.refresh_from_db()
    assert (published.is_current, published.scoring_model, published.scale.version) == (False, "S1", "S1")


def test_draft_is_not_seen_outside_the_lab(lab, published, author):
    drafted(author, torque_100_nm=8.0)
    assert band_list()[0].name == SCALE_S1[0][1]
    assert not Band.objects.filter(name="Soft").exists()


def test_the_same_numbers_change_nothing(lab, published, author):
    draft = drafted(author)
    run = services.draft_dry_run(draft)
    assert run.rescored.changes.changed == 0
    assert run.shoes[0].difference == pytest.approx(0.0, abs=1e-12)
    adopt(lab, draft)
    pairs = zip(*(Result.objects.filter(scoring_model__version=v).order_by("test") for v in ("S1", "S2")), strict=True)
    for old, new in pairs:
        assert all(getattr(old, name) == pytest.approx(getattr(new, name), rel=1e-12) for name in SCORES)
        assert new.stability_u == pytest.approx(old.stability_u, rel=1e-12)


def test_author_does_not_adopt_their_own(lab, published, author):
    assert refused(lab, drafted(author), "own_draft", actor=author).status == 403


def test_draft_changed_since_it_was_looked_at_is_refused(lab, published, author):
    draft = drafted(author)
    assert refused(lab, draft, "draft_changed", revision=draft.revision - 1).status == 409


def test_draft_of_another_base_is_refused(lab, published, author):
    late = drafted(author, version="S3")
    adopt(lab, drafted(author, version="S2", torque_100_nm=8.0))
    with pytest.raises(DomainError) as caught:
        adopt(lab, late)
    assert (caught.value.code, caught.value.status) == ("stale_draft", 409)
    assert "now S2 is" in caught.value.message


def test_second_reviewer_sees_who_was_faster_and_the_first_gets_the_same_answer_again(lab, author, cast):
    other = person("other", Role.REVIEWER)
    draft = drafted(author)
    first = adopt(lab, draft)
    entries = AuditEntry.objects.count()
    again = adopt(lab, draft)
    assert (again.pk, again.is_repeat, AuditEntry.objects.count()) == (first.pk, True, entries)
    with pytest.raises(DomainError) as caught:
        adopt(lab, draft, actor=other)
    assert (caught.value.code, caught.value.status) == ("already_adopted", 409)
    assert "reviewer" in caught.value.message


def test_reason_is_required(lab, author):
    refused(lab, drafted(author), "reason_required", reason="  ")


def test_shoe_that_cannot_be_republished_leaves_only_where_agreed(lab, published, author):
    services.rig_stop(actor=lab.technician, rig=lab.rig, reason="check shoe drifted")
    draft = drafted(author, torque_100_nm=8.0)
    problem = refused(lab, draft, "cards_would_go")
    assert "Rig rig-1 is stopped (check shoe drifted)" in problem.fields["withdraw"][0]
    assert ScoreCard.objects.get(is_current=True).scoring_model == "S1"
    adoption = adopt(lab, draft, withdraw=True)
    assert [entry["shoe"] for entry in adoption.withdrawn] == ["fenrunner-2"]
    assert not ScoreCard.objects.filter(is_current=True).exists()
    assert [band.name for band in band_list()] == ["Soft", "Middle", "Hard"]
    services.rig_clear(actor=lab.reviewer, rig=lab.rig, reason="seated again")
    card = services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="cleared")
    assert (card.scoring_model, card.scale.version) == ("S2", "S2")
    assert list(faults()) == []


def test_unknown_uncertainty_stays_unknown(lab, author):
    from tests.labtests.bench_text import bench_bytes, curve_rows

    lab.upload(bench_bytes(curve_rows([(5.1, 5.9)])))
    lab.accepted(specimen="F2-02")
    adopt(lab, drafted(author, torque_100_nm=8.0))
    alone = Result.objects.get(test__specimen__code="F2-01", scoring_model__version="S2")
    assert (alone.stability_u, alone.cushioning_u_b) == (None, None)
    assert Result.objects.get(test__specimen__code="F2-02", scoring_model__version="S2").stability_u > 0
    assert list(faults()) == []


def test_lab_without_tests_can_change_its_model(lab, author):
    assert adopt(lab, drafted(author)).tests == 0
    assert list(faults()) == []


def test_adopted_numbers_come_back_from_a_draft_of_the_draft(lab, author):
    draft = drafted(author, torque_100_nm=8.0)
    copy = services.model_draft_create(actor=lab.reviewer, version="S9", reason="once more", source=draft)
    assert (copy.torque_100_nm, copy.bands) == (8.0, draft.bands)


def as_owner(sql):
    with connection.cursor() as cursor:
        cursor.execute("RESET ROLE; SET LOCAL ROLE NONE; SET LOCAL session_replication_role = replica")
        cursor.execute(sql)
        cursor.execute("SET LOCAL session_replication_role = origin; SET LOCAL ROLE benchlast_app")


COLUMNS = {
    "id": "id + 1000000",
    "test_id": "test_id + 1000000",
    "scoring_model_id": "scoring_model_id - 1",
    "adoption_id": "NULL",
    "cushioning_estimated": "NOT cushioning_estimated",
    "budgets": "'{\"x\": 1}'",
}


@pytest.mark.parametrize("column", [field.column for field in Result._meta.concrete_fields])
def test_any_changed_column_of_a_sealed_result_is_found(lab, author, column):
    lab.accepted()
    adopt(lab, drafted(author, torque_100_nm=8.0))
    value = COLUMNS.get(column, f"coalesce({column}, 0) + 0.000000001")
    as_owner(f"UPDATE labtests_result SET {column} = {value} WHERE adoption_id IS NOT NULL")
    assert any("adoption" in str(fault) or "result" in str(fault) for fault in faults())


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM labtests_result WHERE adoption_id IS NOT NULL",
        "INSERT INTO labtests_result (test_id, scoring_model_id, adoption_id, stability, midfoot, rearfoot, cushioning,"
        " cushioning_estimated, budgets) SELECT test_id + 1000, scoring_model_id, adoption_id, 1, 1, 1, 1, false, '{}'"
        " FROM labtests_result WHERE adoption_id IS NOT NULL",
        "UPDATE labtests_adoption SET withdrawn = '[1]'",
        "UPDATE labtests_modeldraft SET revision = 77",
        "UPDATE labtests_scoringmodel SET weight_midfoot = 0.5 WHERE version = 'S2'",
    ],
)
def test_rows_added_taken_or_changed_behind_the_trail_are_found(lab, author, statement):
    lab.accepted()
    adopt(lab, drafted(author, torque_100_nm=8.0))
    as_owner(statement)
    assert list(faults()) != []


@pytest.mark.parametrize("column", ["test_id", "scoring_model_id"])
def test_result_of_nothing_is_refused_by_the_database(lab, column):
    lab.accepted()
    with pytest.raises(IntegrityError), transaction.atomic():
        Result.objects.update(**{column: 999_999})


def test_test_with_results_is_not_deleted_by_the_database(lab):
    test = lab.accepted()
    with connection.cursor() as cursor, pytest.raises(IntegrityError, match="has results"), transaction.atomic():
        cursor.execute("DELETE FROM labtests_benchtest WHERE id = %s", [test.pk])


def queries_of_adoption(lab, draft):
    with CaptureQueriesContext(connection) as caught:
        adopt(lab, draft)
    return len(caught)


def test_adoption_takes_the_same_number_of_queries_however_many_tests(lab, author):
    lab.approved(specimen="F2-00")
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="tests")
    # The curves of a shoe are averaged again where it has more specimens than when it was published.
    lab.approved(specimen="F2-01")
    few = queries_of_adoption(lab, drafted(author, torque_100_nm=8.0))
    for number in range(2, 7):
        lab.approved(specimen=f"F2-{number:02}")
    many = queries_of_adoption(lab, drafted(author, version="S3", torque_100_nm=8.5))
    assert few == many
    assert {draft.state for draft in ModelDraft.objects.all()} == {DraftState.ADOPTED}
    assert [adoption.tests for adoption in Adoption.objects.order_by("at")] == [2, 7]


def test_dry_run_writes_nothing(lab, published, author, django_assert_num_queries):
    draft = drafted(author, torque_100_nm=8.0)
    entries = AuditEntry.objects.count()
    with django_assert_num_queries(13):
        run = services.draft_dry_run(draft)
    assert (len(run.tests), len(run.shoes), AuditEntry.objects.count()) == (2, 1, entries)
    assert dataclasses.is_dataclass(run)


def test_check_shoe_is_left_out_of_the_cards_as_in_publishing(lab, published, author):
    import datetime as dt

    test = BenchTest.objects.get(specimen__code="F2-02")
    services.check_shoe_designate(
        actor=lab.technician, rig=lab.rig, specimen=test.specimen, since=dt.date(2026, 1, 1), reason="sound"
    )
    run = services.draft_dry_run(drafted(author))
    alone = services.shoe_proposal(shoe=lab.shoe)
    assert run.shoes[0].then.specimens == alone.specimens == 1
    assert run.shoes[0].then.values["stability"] == pytest.approx(alone.scores["stability"].value, rel=1e-12)


def test_a_guard_band_makes_shoes_near_a_limit_borderline(lab, author):
    """The card of a published shoe names the neighbour once its score is nearer to the limit than the model allows."""
    lab.approved(specimen="F2-01")
    lab.approved(specimen="F2-02")
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="ready")
    before = ScoreCard.objects.get(shoe=lab.shoe, is_current=True)
    assert not before.is_borderline
    # The limit is six standard uncertainties above the score: they alone leave no doubt.
    limit = before.stability + 6.0 * before.stability_u
    bands = [BandText("Soft", limit, "some"), BandText("Hard", None, "the rest")]
    draft = drafted(author, guard_band=7.0 * before.stability_u, bands=bands)
    adopt(lab, draft)
    after = ScoreCard.objects.get(shoe=lab.shoe, is_current=True)
    assert ScoringModel.objects.get(is_current=True).guard_band == pytest.approx(7.0 * before.stability_u)
    assert (after.band.name, after.is_borderline, after.neighbour.name) == ("Soft", True, "Hard")
    assert after.band_probability > 0.95


@pytest.mark.parametrize(("guard_band", "words"), [(-1.0, "0 points or more"), (10.0, "nothing would count as within")])
def test_a_guard_band_that_leaves_nothing_is_refused(lab, author, guard_band, words):
    with pytest.raises(DomainError) as caught:
        drafted(author, guard_band=guard_band)
    assert words in caught.value.fields["guard_band"][0]
    assert not ModelDraft.objects.exclude(guard_band=0.0).exists()


def test_a_guard_band_does_not_forget_what_numbers_were_fitted_to(lab, author):
    draft = drafted(author)
    draft.fit = {"parts": [], "held": [], "shoes": []}
    draft.save()
    changed = services.model_draft_edit(
        actor=author, draft=draft, revision=draft.revision, numbers=numbers_of(draft, guard_band=1.0), bands=THREE,
        reason="surer bands",
    )  # fmt: skip
    assert changed.fit is not None
