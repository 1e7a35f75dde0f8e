"""The pages of scoring models: what reviewers draft, fit, look at and adopt, and what bad input gets."""

from __future__ import annotations

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from catalogue.models import ScoreCard
from catalogue.standard import SCALE_S1
from labtests import services
from labtests.domain.scores.model_rules import NUMBERS, BandText
from labtests.models import DraftState, ModelDraft, ScoringModel
from tests.shared import shared


@shared
def author(cast):
    from core.gate.access import Role
    from core.models import Membership, User

    user = User.objects.create(username="author")
    Membership.objects.create(user=user, role=Role.REVIEWER)
    return user


@shared
def draft(author, lab):
    current = ScoringModel.objects.get(is_current=True)
    return services.model_draft_create(actor=author, version="S2", reason="new references", source=current)


@pytest.fixture
def own(author, client):
    client.force_login(author)
    return client


@pytest.fixture
def other(lab, client):
    client.force_login(lab.reviewer)
    return client


def address(name, version="S2"):
    return reverse(f"labtests:model-{name}", args=[version])


def text_of(response):
    return " ".join(response.content.decode().split())


def page(client, url, status=200, **query):
    response = client.get(url, query)
    assert response.status_code == status, response.content[:500]
    return text_of(response)


def edited(draft, **changes):
    """The fields of the form as the page gives them, with changes."""
    from labtests.forms.scoring_models import DraftForm

    fields = {name: "" if value is None else value for name, value in DraftForm.of(draft).initial.items()}
    return fields | changes


def published(lab):
    for specimen, torque in (("F2-01", 5.0), ("F2-02", 5.2)):
        lab.approved(specimen=specimen, torque_15=torque)
    return services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first tests")


def test_list_says_which_model_is_in_use(other, draft, django_assert_max_num_queries):
    with django_assert_max_num_queries(6):
        text = page(other, reverse("labtests:model-list"))
    assert "in use" in text
    assert "draft" in text
    assert "standard data" in text


def test_list_takes_the_same_queries_for_many_drafts(other, draft, author, django_assert_max_num_queries):
    for number in range(5):
        services.model_draft_create(actor=author, version=f"T{number}", reason="more", source=draft)
    with django_assert_max_num_queries(6):
        page(other, reverse("labtests:model-list"))


def test_draft_is_begun_from_the_model_in_use(own, author, lab):
    response = own.post(reverse("labtests:model-create"), {"version": "S2", "source": "S1", "reason": "new references"})
    draft = ModelDraft.objects.get()
    assert response.url == address("edit")
    assert (draft.author, draft.base.version, draft.torque_100_nm, len(draft.bands)) == (author, "S1", 9.038783, 5)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"version": "S1"}, "There is already a model or scale S1"),
        ({"version": "S 2"}, "Use letters, digits"),
        ({"version": "x\x00"}, "characters that cannot be seen"),
        ({"reason": " "}, "Fill in “Why another model”."),
        ({"source": "S9"}, "This is not one of the choices"),
    ],
)
def test_bad_new_draft_is_reported_at_its_field(own, lab, given, words):
    data = {"version": "S2", "source": "S1", "reason": "new references"} | given
    response = own.post(reverse("labtests:model-create"), data)
    assert response.status_code == 400
    assert words in text_of(response)
    assert not ModelDraft.objects.exists()


def test_author_changes_anchors_weights_and_bands(own, draft):
    data = edited(draft, torque_100_nm="8.5", weight_midfoot="0.6", upper_1="45", name_5="", suits_5="", upper_4="")
    data |= {"name_4": "Stiff"}
    assert own.post(address("edit"), data).url == address("detail")
    draft.refresh_from_db()
    assert (draft.torque_100_nm, draft.weight_midfoot, draft.weight_rearfoot, draft.revision) == (8.5, 0.6, 0.4, 2)
    assert [(band["name"], band["lower"], band["upper"]) for band in draft.bands] == [
        (SCALE_S1[0][1], None, 45.0),
        (SCALE_S1[1][1], 45.0, 60.0),
        (SCALE_S1[2][1], 60.0, 70.0),
        ("Stiff", 70.0, None),
    ]
    text = page(own, address("detail"))
    assert "8.5 N·m" in text
    assert "45 to below 60" in text


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        ({"upper_2": "40"}, "upper_2", "Band 2 must end above 50, where band 1 ends, got 40."),
        ({"upper_2": ""}, "upper_2", "Only the highest band is open above"),
        ({"upper_5": "90"}, "upper_5", "leave its end out"),
        ({"upper_4": "1e9"}, "upper_4", "Write a score from −1000 to 1000"),
        ({"name_2": ""}, "name_2", "Name the band"),
        ({"name_2": SCALE_S1[0][1]}, "name_2", "Band 1 already has this name"),
        ({"suits_3": ""}, "suits_3", "Say whom the band suits"),
        ({"mass_1": "5"}, "mass_1", "from 20 to 300 kg"),
        ({"torque_100_nm": "-1"}, "torque_100_nm", "must be above that at 0 (0 N·m)"),
        ({"torque_100_nm": "0.01"}, "torque_100_nm", "at least 0.1 N·m apart"),
        ({"deflection_100_mm": "11"}, "deflection_100_mm", "must be below that at 0 (10 mm), got 11 mm"),
        ({"work_0_j": "77"}, "work_0_j", "Write a work from −20 to 20 J"),
        ({"work_0_j": "nan"}, "work_0_j", "Enter a number"),
        ({"weight_midfoot": "1.2"}, "weight_midfoot", "Write a weight from 0 to 1"),
        ({"reason": ""}, "reason", "This field is required"),
    ],
)
def test_bad_numbers_and_bands_are_reported_at_their_field(own, draft, given, field, words):
    response = own.post(address("edit"), edited(draft, **given))
    assert response.status_code == 400
    assert words in " ".join(response.context["form"].errors[field])
    draft.refresh_from_db()
    assert draft.revision == 1


def test_one_band_is_too_few(own, draft):
    fields = {f"{part}_{order}": "" for part in ("name", "upper", "mass", "suits") for order in range(2, 6)}
    response = own.post(address("edit"), edited(draft, **fields))
    assert "A scale has 2 to 5 bands, got 1" in text_of(response)


def test_change_by_somebody_else_or_of_an_old_page_is_refused(other, draft, author, client):
    response = other.post(address("edit"), edited(draft))
    assert "Only author can change the draft S2" in text_of(response)
    client.force_login(author)
    assert client.post(address("edit"), edited(draft, torque_100_nm="8")).status_code == 302
    response = client.post(address("edit"), edited(draft, torque_100_nm="7"))
    assert "was changed after you opened it" in text_of(response)


def reference_lab(lab):
    """Three published-quality shoes of different stiffness."""
    from catalogue import services as catalogue

    shoes = [lab.shoe]
    for number in (3, 4):
        shoe = catalogue.shoe_create(
            actor=None, slug=f"fenrunner-{number}", brand=lab.shoe.brand, name="Fenrunner", version=str(number)
        )
        shoes.append(shoe)
    for number, shoe in enumerate(shoes):
        lab.approved(specimen=f"R-{number}", torque_15=3.0 + 1.5 * number, shoe=shoe.slug)
    return shoes


TABLE = "shoe,midfoot\nfenrunner-2,30\nfenrunner-3,45.1\nfenrunner-4,60\n"


def intervals(text):
    return [end for pair in re.findall(r'data-label="95 % interval"[^>]*>(\S+) to (\S+)[^<]*<', text) for end in pair]


def test_fit_shows_numbers_errors_and_residuals_and_is_taken_into_the_draft(own, draft, lab):
    reference_lab(lab)
    response = own.post(address("fit"), {"revision": draft.revision, "table": TABLE})
    text = text_of(response)
    assert response.status_code == 200
    assert "Torque at 100" in text
    assert "95 % interval" in text
    found = intervals(text)
    assert found
    assert all(len(end.strip("−").replace(".", "").lstrip("0")) <= 5 for end in found)
    assert "Without references, and left as they are: rearfoot, cushioning, stability" in text
    draft.refresh_from_db()
    assert (draft.torque_100_nm, draft.revision) == (9.038783, 1)
    used = own.post(address("fit"), {"revision": draft.revision, "table": response.context["table"], "use": "1"})
    assert used.url == address("detail")
    draft.refresh_from_db()
    # Torques 3, 4.5 and 6 N·m get 30, 45.1 and 60: a line of slope 10 a N·m through their mean.
    assert draft.torque_100_nm == pytest.approx(4.5 + (100 - 45.0333333) / 10.0, abs=1e-3)
    assert [part["score"] for part in draft.fit["parts"]] == ["midfoot"]
    assert "Fitted to reference shoes" in page(own, address("detail"))


def test_shoes_can_be_picked_or_sent_as_a_file(own, draft, lab):
    shoes = reference_lab(lab)
    picked = {f"shoe_{n}": shoe.slug for n, shoe in enumerate(shoes, start=1)}
    picked |= {f"midfoot_{n}": str(15 + 15 * n) for n in (1, 2, 3)}
    assert own.post(address("fit"), {"revision": 1, **picked}).context["fit"]
    file = SimpleUploadedFile("references.csv", TABLE.encode("utf-8-sig"))
    assert own.post(address("fit"), {"revision": 1, "file": file}).context["fit"]


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("", "Pick reference shoes, or give a table"),
        ("name;midfoot\nx;3", "there must be a column “shoe”"),
        ("shoe,midfoot\nfenrunner-2,much", "line 2, midfoot: write a score"),
        ("shoe,midfoot\nfenrunner-2,1,2", "line 2: 2 cells wanted, got 3"),
        ("shoe,midfoot\nno-such,40", "has no approved test within the protocol"),
        ("shoe,midfoot\nfenrunner-2,40", "at least 3 reference shoes with a midfoot score must have the torque, got 1"),
        ("shoe,midfoot\nfenrunner-2,60\nfenrunner-3,45\nfenrunner-4,30", "must rise with the torque"),
        ("shoe,midfoot\nfenrunner-2,nan", "line 2, midfoot: write a score"),
    ],
)
def test_bad_references_are_reported(own, draft, lab, table, words):
    reference_lab(lab)
    response = own.post(address("fit"), {"revision": 1, "table": table})
    assert response.status_code == 400
    assert words in text_of(response)


def test_file_that_is_no_text_is_reported(own, draft, lab):
    response = own.post(address("fit"), {"revision": 1, "file": SimpleUploadedFile("x.csv", b"\xff\xfe\x00")})
    assert "must be a CSV table in UTF-8" in text_of(response)


def test_dry_run_names_every_shoe_that_changes_band(other, draft, lab, author, django_assert_max_num_queries):
    published(lab)
    draft = services.model_draft_edit(
        actor=author,
        draft=draft,
        revision=1,
        numbers={name: getattr(draft, name) for name in NUMBERS} | {"torque_100_nm": 6.0},
        bands=[BandText(b["name"], b["upper"], b["suits"]) for b in draft.bands],
        reason="softer",
    )
    with django_assert_max_num_queries(21):
        text = page(other, address("dry-run"))
    assert "1. <a href" in text
    assert "Fenwright Fenrunner 2" in text
    assert "2 tests, 2 of them in another band" in text
    assert "What this cannot tell you" in text


def test_dry_run_of_an_empty_lab_is_shown(other, draft):
    assert "None." in page(other, address("dry-run"))


def test_reviewer_adopts_from_the_dry_run(other, draft, lab):
    published(lab)
    response = other.post(address("adopt"), {"revision": 1, "reason": "agreed"}, follow=True)
    assert "S2 is in use: 2 tests rescored, 1 shoes published again" in text_of(response)
    assert ScoreCard.objects.get(is_current=True).scoring_model == "S2"
    text = page(other, address("detail"))
    assert "Its adoption" in text
    assert "took the scoring model S2 into use" in text
    assert "earlier" in page(other, address("detail", "S1"))
    assert "Anchors of the scoring model, version 2" in text_of(other.get("/how-we-measure/"))
    assert "version 2" in text_of(other.get("/shoes/fenrunner-2/"))


def test_author_reads_that_somebody_else_adopts(own, draft):
    assert "Another reviewer has to adopt it" in page(own, address("dry-run"))
    response = own.post(address("adopt"), {"revision": 1, "reason": "mine"})
    assert response.status_code == 403
    assert "You drafted S2" in text_of(response)


def test_second_reviewer_sees_who_was_faster(other, draft, lab, author):
    from core.gate.access import Role
    from core.models import Membership, User

    faster = User.objects.create(username="faster")
    Membership.objects.create(user=faster, role=Role.REVIEWER)
    services.model_adopt(actor=faster, draft=draft, revision=1, reason="agreed")
    response = other.post(address("adopt"), {"revision": 1, "reason": "agreed too"}, follow=True)
    assert "already adopted by faster" in text_of(response)


def test_shoes_that_would_go_are_named_and_agreed_to(other, draft, lab):
    published(lab)
    services.rig_stop(actor=lab.technician, rig=lab.rig, reason="check shoe drifted")
    assert "Shoes that would leave the catalogue" in page(other, address("dry-run"))
    response = other.post(address("adopt"), {"revision": 1, "reason": "agreed"})
    assert response.status_code == 409
    assert "check shoe drifted" in text_of(response)
    response = other.post(address("adopt"), {"revision": 1, "reason": "agreed", "withdraw": "on"}, follow=True)
    assert "Left the catalogue" in text_of(response)


def test_adoption_without_a_reason_shows_the_dry_run_again(other, draft):
    response = other.post(address("adopt"), {"revision": 1})
    assert response.status_code == 400
    assert "Dry run of S2" in text_of(response)


def test_draft_is_discarded_and_stays_readable(own, draft):
    assert own.post(address("discard"), {"reason": " "}).status_code == 400
    own.post(address("discard"), {"reason": "not needed"})
    draft.refresh_from_db()
    assert draft.state == DraftState.DISCARDED
    assert "discarded the draft S2: not needed" in page(own, address("detail"))
    assert own.get(address("dry-run")).status_code == 302
    assert "was discarded" in text_of(own.post(address("discard"), {"reason": "again"}, follow=True))
    assert "was discarded" in text_of(own.post(address("edit"), edited(draft)))


def test_technician_looks_but_neither_drafts_nor_adopts(client, draft, lab):
    client.force_login(lab.technician)
    text = page(client, address("dry-run"))
    assert "Adopt S2" not in text
    assert "Draft another" not in page(client, reverse("labtests:model-list"))
    assert client.post(address("adopt"), {"revision": 1, "reason": "x"}).status_code == 403


def test_test_page_shows_scores_by_either_model_with_their_budgets(other, draft, lab, author):
    test = lab.approved()
    numbers = {name: getattr(draft, name) for name in NUMBERS} | {
        "torque_100_nm": 8.0,
        "weight_midfoot": 0.6,
        "weight_rearfoot": 0.4,
    }
    bands = [BandText(b["name"], b["upper"], b["suits"]) for b in draft.bands]
    draft = services.model_draft_edit(
        actor=author, draft=draft, revision=1, numbers=numbers, bands=bands, reason="again"
    )
    services.model_adopt(actor=lab.reviewer, draft=draft, revision=2, reason="agreed")
    url = reverse("labtests:test-detail", args=[test.pk])
    now, before = page(other, url), page(other, url, model="S1")
    assert "Scores by model S2" in now
    assert "Uncertainty budget of Stability" in now
    assert "Scores by model S1" in before
    assert "scores by an earlier model" in before
    assert "Scores by model S2" in page(other, url, model="nonsense")


def test_converted_budget_is_that_of_an_upload_under_the_model(other, draft, lab, author):
    from labtests.models import BenchTest
    from labtests.selectors.bench_tests import bench_test_get
    from labtests.selectors.scores.scoring_models import result_by

    old = lab.approved(specimen="F2-01")
    numbers = {name: getattr(draft, name) for name in NUMBERS} | {
        "torque_100_nm": 8.0,
        "weight_midfoot": 0.7,
        "weight_rearfoot": 0.3,
    }
    bands = [BandText(b["name"], b["upper"], b["suits"]) for b in draft.bands]
    draft = services.model_draft_edit(
        actor=author, draft=draft, revision=1, numbers=numbers, bands=bands, reason="again"
    )
    services.model_adopt(actor=lab.reviewer, draft=draft, revision=2, reason="agreed")
    fresh = result_by(bench_test_get(lab.accepted(specimen="F2-02").pk), "S2").budget_tables
    moved = result_by(bench_test_get(old.pk), "S2").budget_tables
    assert BenchTest.objects.count() == 2
    for score, budget in fresh.items():
        assert moved[score].df == pytest.approx(budget.df, rel=1e-9)
        found = {row.source: row for row in moved[score].rows}
        for row in budget.rows:
            for name in ("u", "sensitivity", "contribution", "share"):
                assert getattr(found[row.source], name) == pytest.approx(getattr(row, name), rel=1e-9, abs=1e-12)
