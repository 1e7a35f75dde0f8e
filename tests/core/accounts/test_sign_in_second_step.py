"""With a second factor the password alone opens nothing: the code is asked in a second step."""

from __future__ import annotations

import time

import pytest
from django.test import Client
from django.urls import reverse
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken

from core.accounts import second_factor
from core.accounts import services as accounts
from core.models import User

GATED = ["/home/", "/account/", "/lab/", "/office/accounts/"]


@pytest.fixture
def step():
    return reverse("core:second-step")


@pytest.fixture
def half_way(people, give_password, device_for):
    """A client of a reviewer whose password was right, and the device."""
    client, device = Client(), device_for(people.reviewer)
    response = give_password("reviewer", client=client)
    assert response.headers["Location"].startswith(reverse("core:second-step"))
    return client, device


@pytest.mark.parametrize("page", GATED)
def test_no_page_opens_before_the_second_step(half_way, page):
    client, _ = half_way
    response = client.get(page)
    assert response.status_code == 302
    assert response.headers["Location"].startswith(reverse("core:sign-in"))


def test_no_api_address_opens_before_the_second_step(half_way):
    client, _ = half_way
    assert client.get("/api/lab/tests/").status_code in (401, 403)


def test_session_is_nobodys_before_the_second_step(half_way):
    client, _ = half_way
    assert "_auth_user_id" not in client.session
    assert User.objects.get(username="reviewer").last_login is None


def test_code_opens_the_account_and_leads_on(half_way, code_of, step):
    client, device = half_way
    response = client.post(step, {"code": code_of(device), "next": "/lab/"})
    assert response.headers["Location"] == "/lab/"
    assert client.get("/lab/").status_code == 200


def test_code_with_a_blank_in_it_is_read(half_way, code_of, step):
    client, device = half_way
    code = code_of(device)
    assert client.post(step, {"code": f"{code[:3]} {code[3:]}"}).status_code == 302


def test_same_code_opens_once(half_way, code_of, step, give_password, people):
    client, device = half_way
    code = code_of(device)
    assert client.post(step, {"code": code}).status_code == 302
    other = Client()
    give_password("reviewer", client=other)
    assert other.post(step, {"code": code}).status_code == 400
    assert "_auth_user_id" not in other.session


@pytest.mark.parametrize("code", ["", "12345", "1234567", "abcdef", "٣٣٣٣٣٣", "x" * 41, "1\x002345"])
def test_what_is_no_code_is_refused(half_way, step, code):
    client, _ = half_way
    response = client.post(step, {"code": code})
    assert response.status_code == 400
    assert "_auth_user_id" not in client.session


def test_wrong_codes_in_a_row_make_wait(half_way, code_of, step):
    client, device = half_way
    right = code_of(device)
    wrong = f"{(int(right) + 1) % 1_000_000:06d}"
    assert "not correct" in client.post(step, {"code": wrong}).content.decode()
    answer = client.post(step, {"code": right}).content.decode()
    assert "Too many wrong codes" in answer


def test_five_wrong_codes_lock_like_wrong_passwords(half_way, code_of, step):
    client, device = half_way
    for _ in range(5):
        wrong = f"{(int(code_of(device)) + 1) % 1_000_000:06d}"
        response = client.post(step, {"code": wrong}, REMOTE_ADDR="203.0.113.7")
    assert response.status_code == 429
    assert client.get(step).headers["Location"].startswith(reverse("core:sign-in"))


def test_lock_holds_in_the_second_step_too(half_way, code_of, step, give_password):
    client, device = half_way
    for _ in range(5):
        give_password("reviewer", "wrong")
    response = client.post(step, {"code": code_of(device)}, REMOTE_ADDR="203.0.113.7")
    assert response.status_code == 429
    assert "_auth_user_id" not in client.session


def test_second_step_is_forgotten_after_ten_minutes(half_way, code_of, step):
    client, device = half_way
    session = client.session
    session["second_step"] = {**session["second_step"], "at": int(time.time()) - 601}
    session.save()
    assert client.post(step, {"code": code_of(device)}).headers["Location"].startswith(reverse("core:sign-in"))


def test_second_step_is_void_after_a_new_password(half_way, code_of, step, people):
    client, device = half_way
    accounts.password_reset(actor=people.office, user=people.reviewer, reason="a call")
    assert client.post(step, {"code": code_of(device)}).headers["Location"].startswith(reverse("core:sign-in"))


def test_second_step_is_void_for_an_account_switched_off(half_way, code_of, step, people):
    client, device = half_way
    accounts.account_switch_off(actor=people.office, user=people.reviewer, reason="has left")
    assert client.post(step, {"code": code_of(device)}).headers["Location"].startswith(reverse("core:sign-in"))


def test_second_step_without_a_first_leads_to_it(db, step):
    assert Client().get(step).headers["Location"].startswith(reverse("core:sign-in"))


@pytest.mark.parametrize("page", GATED)
def test_gate_refuses_a_session_that_skipped_the_second_step(people, device_for, sign_in, page):
    device_for(people.office)
    response = sign_in(people.office).get(page)
    assert response.status_code == 302
    assert response.headers["Location"].startswith(reverse("core:sign-in"))


def test_gate_refuses_the_api_to_such_a_session(people, device_for, sign_in):
    device_for(people.technician)
    response = sign_in(people.technician).get("/api/lab/tests/")
    assert response.status_code == 403
    assert "enter the code of your second factor" in response.json()["detail"]


def test_such_a_session_can_sign_in_again(people, device_for, sign_in, give_password, code_of, step):
    device = device_for(people.technician)
    client = sign_in(people.technician)
    assert client.get(reverse("core:sign-in")).status_code == 200
    give_password("technician", client=client)
    assert client.post(step, {"code": code_of(device)}).status_code == 302
    assert client.get("/lab/").status_code == 200


def test_device_of_another_opens_nothing(people, device_for, sign_in, half_way, code_of, step):
    client, _ = half_way
    other = device_for(people.office)
    client.post(step, {"code": code_of(other)})
    assert "_auth_user_id" not in client.session


def test_tokens_need_no_code(people, device_for, api_for):
    device_for(people.technician)
    assert api_for(people.technician).get("/api/lab/tests/").status_code == 200


@pytest.fixture
def codes(people):
    second_factor.second_factor_begin(actor=people.reviewer)
    device = second_factor.device_of(people.reviewer, confirmed=False)
    device.confirmed = True
    device.save()
    return second_factor._renew_codes(people.reviewer)


def test_recovery_code_opens_once(codes, give_password, step):
    for expected in (302, 400):
        client = Client()
        give_password("reviewer", client=client)
        assert client.post(step, {"code": codes[0].upper()}).status_code == expected
    assert StaticToken.objects.count() == len(codes) - 1


def test_recovery_codes_are_kept_as_digests(codes):
    kept = set(StaticToken.objects.values_list("token", flat=True))
    assert len(kept) == len(codes) == 10
    assert not kept & {code.replace("-", "") for code in codes}
    assert StaticDevice.objects.count() == 1


def test_recovery_code_of_another_opens_nothing(codes, people, give_password, device_for, step):
    device_for(people.office)
    StaticDevice.objects.create(user=people.office, name="own")
    client = Client()
    give_password("office", client=client)
    assert client.post(step, {"code": codes[0]}).status_code == 400
    assert "_auth_user_id" not in client.session


def test_page_tells_how_many_recovery_codes_are_left(codes, give_password, step):
    client = Client()
    give_password("reviewer", client=client)
    client.post(step, {"code": codes[0]})
    assert "Unused recovery codes: 9" in client.get(reverse("core:account")).content.decode()
