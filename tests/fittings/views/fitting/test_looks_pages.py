"""Looks in motion on the pages: while the fitting is recorded, on it, on the card, and added afterwards."""

from __future__ import annotations

import json
import uuid

import pytest

from fittings.models import Fitting, LookFoot, PictureAngle, ShoeMovement, SupersededLook
from tests.fittings.views.fitting.test_picture_angles import marks
from tests.shared import shared


@pytest.fixture
def fitter(sign_in, cast):
    return sign_in(cast.fitter_a)


@shared
def shoes(make_shoe):
    return [make_shoe("first-shoe", 50.0), make_shoe("second-shoe", 50.0)]


def page_of(**more):
    return {
        "do": "finish",
        "person-name": "Ada Example",
        "person-consent": "yes",
        "stop-signs": ["none"],
        "intake-use": "running",
        "left-pronation": "1",
        "try-0-slug": "first-shoe",
        "try-0-size": "EU 42",
        "try-1-slug": "second-shoe",
        "try-1-size": "EU 42",
        "look-0-gait": "running",
        "look-0-worn": "barefoot",
        "look-0-left_pronation": "2",
        "look-1-gait": "running",
        "look-1-worn": "0",
        "look-1-left_pronation": "1",
        "look-2-gait": "walking",
        "look-2-worn": "1",
        "look-2-left_pronation_deg": "15,5",
        **more,
    }


def test_changes_are_shown_while_the_fitting_is_recorded_and_at_the_choice(fitter, shoes):
    page = fitter.post(f"/fittings/drafts/{uuid.uuid4()}/need/", page_of()).content.decode()
    assert 'id="fit-look-changes"' in page
    assert "Running in Brand first-shoe" in page
    assert "pronation left from moderate to slight" in page
    assert "pronation left from slight to marked" in page
    assert "Try another shoe as well" in page
    assert "in motion better than barefoot" in page
    assert "in motion worse than barefoot" in page
    assert not LookFoot.objects.exists()


def test_looks_are_recorded_with_the_fitting_and_shown_on_it_and_on_the_card(fitter, shoes):
    done = fitter.post(f"/fittings/drafts/{uuid.uuid4()}/", page_of())
    assert done.status_code == 302, done.context["problems"]
    fitting = Fitting.objects.get()
    assert {(item.shoe.slug, item.movement) for item in ShoeMovement.objects.all()} == {
        ("first-shoe", "better"),
        ("second-shoe", "worse"),
    }
    for address in (f"/fittings/{fitting.pk}/", f"/fittings/{fitting.pk}/card/"):
        page = fitter.get(address).content.decode()
        assert "Walking in Brand second-shoe" in page
        assert "worse than barefoot" in page
        assert "Try another shoe" in page
    assert fitting.fitter.display_name in fitter.get(f"/fittings/{fitting.pk}/").content.decode()


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"look-0-gait": ""}, "gait", "walking or running"),
        ({"look-0-worn": ""}, "worn", "what was worn"),
        ({"look-0-gait": "walking"}, "worn", "Walking barefoot is the observation"),
        ({"look-0-left_pronation": ""}, "left_pronation", "at least one sign"),
        ({"look-0-left_pronation": "7"}, "left_pronation", "Select a valid choice"),
        ({"look-0-left_pronation_deg": "99"}, "left_pronation_deg", "from −30 to 45"),
        ({"look-0-left_pronation_deg": "2"}, "left_pronation_deg", "another grade was picked"),
        ({"look-0-worn": "3"}, "worn", "Number 4 has no shoe"),
        ({"look-0-worn": "0"}, "worn", "already"),
        ({"look-0-worn": "9"}, "worn", "Select a valid choice"),
    ],
)
def test_a_bad_look_is_refused_at_its_field_and_nothing_is_lost(fitter, shoes, changes, field, words):
    answer = fitter.post(f"/fittings/drafts/{uuid.uuid4()}/", page_of(**changes))
    assert answer.status_code == 400
    errors = [form.errors[field] for form in answer.context["problems"] if field in form.errors]
    assert words in str(errors)
    assert "15,5" in answer.content.decode()
    assert not Fitting.objects.exists()


def test_looks_are_added_to_a_finished_fitting(fitter, sign_in, cast, make_fitting, shoes):
    from fittings.services import try_on_record

    fitting = make_fitting()
    try_on_record(actor=cast.fitter_a, fitting=fitting, slug="first-shoe", size="EU 42", comfort=5)
    address = f"/fittings/{fitting.pk}/looks/"
    assert "Brand first-shoe" in fitter.get(address).content.decode()
    given = {"look-0-gait": "walking", "look-0-worn": "first-shoe", "look-0-left_pronation": "3"}
    assert fitter.post(address, given | {"look-0-worn": "second-shoe"}).status_code == 400
    assert fitter.post(address, {}).status_code == 400
    assert fitter.post(address, given).status_code == 302
    again = fitter.post(address, given)
    assert again.status_code == 400
    assert "was already recorded" in again.content.decode()
    assert "worse than barefoot" in fitter.get(f"/fittings/{fitting.pk}/").content.decode()
    assert sign_in(cast.fitter_b).get(address).status_code == 404
    assert sign_in(cast.fitter_b).post(address, given).status_code == 404
    assert LookFoot.objects.count() == 2


def test_look_is_corrected_and_taken_back_on_its_page(fitter, sign_in, cast, shoes):
    fitter.post(f"/fittings/drafts/{uuid.uuid4()}/", page_of())
    fitting = Fitting.objects.get()
    page = f"/fittings/{fitting.pk}/"
    number = LookFoot.objects.get(worn="candidate", shoe__slug="second-shoe", foot="left").pk
    address = f"{page}looks/{number}/correct/"
    assert address in fitter.get(page).content.decode()
    assert 'value="15.5"' in fitter.get(address).content.decode()
    given = {"look-gait": "walking", "look-worn": "second-shoe", "look-left_pronation": "0", "reason": "Wrong tap."}
    assert fitter.post(address, given | {"reason": ""}).status_code == 400
    assert fitter.post(address, {"reason": "Wrong tap."}).status_code == 400
    assert (
        "nothing to correct"
        in fitter.post(address, given | {"look-left_pronation": "", "look-left_pronation_deg": "15.5"}).content.decode()
    )
    assert fitter.post(address, given).status_code == 302
    shown = fitter.get(page).content.decode()
    assert "Walking in Brand second-shoe: corrected by" in shown
    assert "left pronation marked (15.5°)" in shown
    assert fitter.post(address, given).status_code == 409
    assert fitter.get(f"{page}looks/987654/correct/").status_code == 404
    newest = LookFoot.objects.filter(shoe__slug="second-shoe").earliest("pk").pk
    taken_back = fitter.post(f"{page}looks/{newest}/correct/", {"reason": "Not looked at.", "take_back": "on"})
    assert taken_back.status_code == 302
    assert list(ShoeMovement.objects.values_list("shoe__slug", flat=True)) == ["first-shoe"]
    assert sign_in(cast.fitter_b).get(f"{page}looks/0/correct/").status_code == 404


def test_observation_is_corrected_on_its_page(fitter, make_fitting):
    fitting = make_fitting()
    address = f"/fittings/{fitting.pk}/looks/0/correct/"
    page = fitter.get(address).content.decode()
    assert "take_back" not in page
    assert "look-gait" not in page
    assert "sign" in str(fitter.post(address, {"reason": "Left and right."}).content)
    assert fitter.post(address, {"look-left_pronation": "0", "reason": "Left and right."}).status_code == 302
    assert fitting.feet.get(foot="left").pronation == 0
    assert "Walking barefoot: corrected by" in fitter.get(f"/fittings/{fitting.pk}/").content.decode()


def test_rearfoot_is_measured_on_a_picture_in_a_look(fitter, shoes):
    measured = {
        "look-0-right_marks": json.dumps(marks()),
        "look-0-right_rearfoot_eversion_deg": "7.5",
    }
    wrong = page_of(**measured | {"look-0-right_rearfoot_eversion_deg": "9"})
    refused = fitter.post(f"/fittings/drafts/{uuid.uuid4()}/", wrong)
    assert "The marks on the picture give 7.5, not 9" in refused.content.decode()
    for text in ("[", "x" * 5000, json.dumps({"navicular_drop": {"readings": []}})):
        refused = fitter.post(f"/fittings/drafts/{uuid.uuid4()}/", page_of(**measured | {"look-0-right_marks": text}))
        assert refused.status_code == 400
    assert fitter.post(f"/fittings/drafts/{uuid.uuid4()}/", page_of(**measured)).status_code == 302
    foot = LookFoot.objects.get(worn="barefoot", foot="right")
    assert (foot.rearfoot_eversion_deg, foot.rearfoot_eversion) == (7.5, 2)
    assert foot.rearfoot_eversion_apart == pytest.approx(0.6)
    page = fitter.get(f"/fittings/{foot.fitting_id}/").content.decode()
    assert "rearfoot eversion moderate (7.5°, two readings 0.6° apart)" in page


def test_marks_are_worked_out_beside_a_finished_fitting(fitter, sign_in, cast, make_fitting):
    address = f"/fittings/{make_fitting().pk}/"
    sent = {"marks": json.dumps(marks()), "foot": "right"}
    assert "7.5°" in fitter.post(f"{address}angle/", sent).content.decode()
    page = fitter.get(f"{address}looks/")
    assert page.headers["Permissions-Policy"].startswith("camera=(self)")
    assert f'data-address="{address}angle/"' in page.content.decode()
    assert sign_in(cast.fitter_b).post(f"{address}angle/", sent).status_code == 404


def test_measure_on_a_picture_is_corrected_on_its_page(fitter, shoes):
    data = page_of(**{"right-marks": json.dumps(marks()), "right-rearfoot_eversion_deg": "7.5"})
    fitter.post(f"/fittings/drafts/{uuid.uuid4()}/", data)
    angle = PictureAngle.objects.get()
    page = f"/fittings/{angle.fitting_id}/"
    address = f"{page}angles/{angle.pk}/correct/"
    assert address in fitter.get(page).content.decode()
    assert "Enter both readings" in fitter.post(address, {"first": "3", "reason": "Slipped."}).content.decode()
    assert "99" in fitter.post(address, {"first": "99", "second": "99", "reason": "Slipped."}).content.decode()
    assert not SupersededLook.objects.exists()
    assert fitter.post(address, {"first": "3", "second": "4", "reason": "Slipped."}).status_code == 302
    assert "3.5°, two readings 1.0° apart" in fitter.get(page).content.decode()
    assert fitter.post(address, {"take_back": "on", "reason": "Slipped."}).status_code == 409
