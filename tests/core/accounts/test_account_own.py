"""One's own account: password, second factor, tokens; and what is owed before any work."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse
from django_otp.plugins.otp_static.models import StaticDevice
from knox.models import AuthToken

from core.accounts import second_factor
from core.accounts import services as accounts
from core.domain.errors import DomainError
from core.models import AuditEntry, SealedDevice, User

PASSWORD = "a long pass phrase"
NEW = "quite another phrase"


@pytest.fixture
def inside(people, give_password):
    client = Client()
    give_password("reviewer", client=client)
    return client


def change(client, new=NEW, again=None, current=PASSWORD):
    data = {"current_password": current, "new_password": new, "new_password_again": new if again is None else again}
    return client.post(reverse("core:password-change"), data)


def test_password_page_shows_the_rules(inside):
    text = inside.get(reverse("core:password-change")).content.decode()
    assert "at least 12 characters" in text
    assert "entirely numeric" in text


@pytest.mark.parametrize(
    ("new", "says"),
    [
        ("short", "too short"),
        ("123456789012345", "entirely numeric"),
        ("the-reviewer", "too similar to the username"),
        ("1q2w3e4r5t6y", "too common"),
        (PASSWORD, "your current password"),
        ("x" * 257, "at most 256 characters"),
    ],
)
def test_password_that_breaks_a_rule_is_refused_at_its_field(inside, new, says):
    response = change(inside, new)
    assert response.status_code == 400
    assert says in response.content.decode()
    assert User.objects.get(username="reviewer").check_password(PASSWORD)


def test_new_passwords_must_agree(inside):
    assert "differ" in change(inside, again="something else").content.decode()


def test_change_needs_the_current_password_and_guesses_are_counted(inside):
    for _ in range(4):
        assert "not your password" in change(inside, current="a guess").content.decode()
    assert change(inside, current="a guess").status_code == 429
    assert User.objects.get(username="reviewer").check_password(PASSWORD)


def test_changed_password_is_in_the_trail_without_any_hash(inside, people, actions):
    change(inside)
    user = User.objects.get(username="reviewer")
    assert user.check_password(NEW)
    assert actions(user) == ["core.password.changed"]
    trail = " ".join(AuditEntry.objects.values_list("payload", flat=True))
    assert "md5$" not in trail
    assert "argon2" not in trail
    assert '"password"' not in trail


@pytest.fixture
def newcomer(people, give_password):
    """A client that has signed in with a temporary password, and its account."""
    account = accounts.password_reset(actor=people.office, user=people.reviewer, reason="forgotten")
    client = Client()
    assert give_password("reviewer", account.password, client=client).status_code == 302
    return client, account


@pytest.mark.parametrize("page", ["/lab/", "/lab/tests/", "/account/tokens/new/"])
def test_temporary_password_opens_only_the_way_to_an_own_one(newcomer, page):
    client, _ = newcomer
    response = client.get(page)
    assert response.headers["Location"].startswith(reverse("core:password-change"))


def test_temporary_password_opens_no_api(newcomer):
    client, _ = newcomer
    assert client.get("/api/lab/tests/").status_code == 403


def test_own_password_opens_the_rest_and_leads_on(newcomer):
    client, account = newcomer
    refused = client.get("/lab/").headers["Location"]
    data = {"current_password": account.password, "new_password": NEW, "new_password_again": NEW}
    assert client.post(refused, data).headers["Location"] == "/lab/"
    assert client.get("/lab/").status_code == 200


def test_temporary_password_itself_is_no_own_one(newcomer):
    client, account = newcomer
    assert "your current password" in change(client, account.password, current=account.password).content.decode()


def begin(client):
    assert client.post(reverse("core:second-factor"), {"current_password": PASSWORD}).status_code == 302
    return client.get(reverse("core:second-factor-confirm")).content.decode()


def secret_in(text):
    return re.search(r"<samp>([A-Z2-7 ]+)</samp>", text).group(1)


def test_second_factor_is_set_up_by_a_first_code(inside, people, code_of_secret, actions, give_password):
    other = Client()
    give_password("reviewer", client=other)
    text = begin(inside)
    assert "<svg" in text
    assert "style=" not in text
    answer = inside.post(reverse("core:second-factor-confirm"), {"code": code_of_secret(secret_in(text))})
    codes = re.findall(r"<samp>([a-z2-7-]{19})</samp>", answer.content.decode())
    assert len(set(codes)) == 10
    assert "no-store" in answer.headers["Cache-Control"]
    assert inside.get("/lab/").status_code == 200
    assert other.get("/lab/").status_code == 302
    assert actions(people.reviewer) == ["core.second_factor.set_up"]


def test_picture_holds_the_secret_that_is_shown(people):
    device = second_factor.second_factor_begin(actor=people.reviewer)
    secret = second_factor.setup_secret(device).replace(" ", "")
    assert f"secret={secret}" in device.config_url
    assert device.config_url.startswith("otpauth://totp/")
    assert second_factor.setup_picture(device).startswith("<svg")


def test_wrong_first_code_sets_nothing_up(inside):
    begin(inside)
    answer = inside.post(reverse("core:second-factor-confirm"), {"code": "000000"})
    if SealedDevice.objects.filter(confirmed=True).exists():
        pytest.skip("one chance in 333,333: 000000 was right")
    assert answer.status_code == 400
    assert "not correct" in answer.content.decode()
    assert not StaticDevice.objects.exists()


def test_setup_needs_the_password(inside):
    response = inside.post(reverse("core:second-factor"), {"current_password": "a guess"})
    assert "not your password" in response.content.decode()
    assert not SealedDevice.objects.exists()


def test_beginning_again_makes_another_secret(inside):
    assert secret_in(begin(inside)) != secret_in(begin(inside))
    assert SealedDevice.objects.count() == 1


def test_unconfirmed_secret_guards_nothing(inside, give_password):
    begin(inside)
    other = Client()
    assert give_password("reviewer", client=other).headers["Location"] == reverse("core:home")


@pytest.fixture
def guarded(people, inside, code_of_secret):
    """A client of an account with a second factor, and its device."""
    secret = secret_in(begin(inside))
    inside.post(reverse("core:second-factor-confirm"), {"code": code_of_secret(secret)})
    return inside, SealedDevice.objects.get(confirmed=True)


def test_second_factor_is_not_set_up_twice(guarded, people):
    client, _ = guarded
    assert client.get(reverse("core:second-factor")).headers["Location"] == reverse("core:account")
    with pytest.raises(DomainError, match="already set up"):
        second_factor.second_factor_begin(actor=people.reviewer)


def test_second_factor_is_removed_by_a_code(guarded, code_of, people, actions, give_password):
    client, device = guarded
    response = client.post(reverse("core:second-factor-remove"), {"code": code_of(device)})
    assert response.headers["Location"] == reverse("core:account")
    assert client.get("/lab/").status_code == 200
    assert give_password("reviewer").headers["Location"] == reverse("core:home")
    assert not StaticDevice.objects.exists()
    assert actions(people.reviewer)[-1] == "core.second_factor.removed"


def test_second_factor_is_not_removed_by_a_wrong_code(guarded, code_of):
    client, device = guarded
    wrong = f"{(int(code_of(device)) + 1) % 1_000_000:06d}"
    assert client.post(reverse("core:second-factor-remove"), {"code": wrong}).status_code == 400
    assert SealedDevice.objects.filter(confirmed=True).exists()


def test_new_recovery_codes_void_the_old(guarded, code_of, people, actions):
    client, device = guarded
    before = set(StaticDevice.objects.get().token_set.values_list("token", flat=True))
    answer = client.post(reverse("core:recovery-codes"), {"code": code_of(device)})
    assert len(re.findall(r"<samp>[a-z2-7-]{19}</samp>", answer.content.decode())) == 10
    assert not before & set(StaticDevice.objects.get().token_set.values_list("token", flat=True))
    assert actions(people.reviewer)[-1] == "core.second_factor.codes_renewed"


def test_changed_password_keeps_the_second_step_of_this_session(guarded):
    client, _ = guarded
    assert change(client).status_code == 302
    assert client.get("/lab/").status_code == 200


@pytest.mark.parametrize(("role", "page"), [("reviewer", "/lab/"), ("office", "/office/accounts/")])
def test_obligation_lets_office_and_reviewer_only_set_up_a_second_factor(people, sign_in, settings, role, page):
    settings.REQUIRE_SECOND_FACTOR = True
    client = sign_in(getattr(people, role))
    assert client.get(page).headers["Location"].startswith(reverse("core:second-factor"))
    assert client.get("/api/lab/tests/").status_code == 403
    assert client.get(reverse("core:token-new")).status_code == 302
    assert "requires a second factor" in client.get(reverse("core:second-factor")).content.decode()


def test_obligation_is_fulfilled_by_setting_it_up(guarded, settings):
    client, _ = guarded
    settings.REQUIRE_SECOND_FACTOR = True
    assert client.get("/lab/").status_code == 200


def test_obligation_spares_the_other_roles(people, sign_in, settings):
    settings.REQUIRE_SECOND_FACTOR = True
    assert sign_in(people.technician).get("/lab/").status_code == 200


def make_token(client, days=90, password=PASSWORD):
    return client.post(reverse("core:token-new"), {"days": days, "current_password": password})


def test_token_is_shown_once_and_opens_the_api(inside, people, actions):
    answer = make_token(inside)
    token = re.search(r"<samp>(\w+)</samp>", answer.content.decode()).group(1)
    assert "no-store" in answer.headers["Cache-Control"]
    assert Client().get("/api/lab/tests/", HTTP_AUTHORIZATION=f"Token {token}").status_code == 200
    page = inside.get(reverse("core:account")).content.decode()
    assert token not in page
    assert f"{token[:8]}…" in page
    assert actions(people.reviewer) == ["core.token.issued"]
    assert token not in AuditEntry.objects.get(action="core.token.issued").payload


@pytest.mark.parametrize(("days", "left"), [(30, 30), (365, 365)])
def test_token_ends_when_asked(inside, days, left):
    make_token(inside, days)
    row = AuthToken.objects.get()
    assert round((row.expiry - row.created).total_seconds() / 86_400) == left


@pytest.mark.parametrize("days", ["-1", "0", "31", "366", "x", ""])
def test_token_of_another_length_is_refused(inside, days):
    assert make_token(inside, days).status_code == 400
    assert not AuthToken.objects.exists()


def test_token_needs_the_password(inside):
    text = make_token(inside, password="a guess").content.decode()
    assert "not your password" in text
    # What went wrong has the focus, so that a keyboard or a screen reader starts there.
    assert 'role="alert" tabindex="-1" autofocus>' in text
    assert "No token was created" in text
    assert not AuthToken.objects.exists()


def test_revoked_token_opens_nothing(inside, people, actions):
    row, token = AuthToken.objects.create(people.reviewer)
    inside.post(reverse("core:token-revoke"), {"token": row.digest})
    assert Client().get("/api/lab/tests/", HTTP_AUTHORIZATION=f"Token {token}").status_code == 401
    assert actions(people.reviewer) == ["core.token.revoked"]


@pytest.mark.parametrize("digest", ["", "zz", "nul\x00", "ab" * 300])
def test_token_that_is_not_there_is_not_revoked_and_says_so(inside, digest):
    inside.post(reverse("core:token-revoke"), {"token": digest})
    assert "already revoked or has expired" in inside.get(reverse("core:account")).content.decode()


def test_token_of_another_is_not_ones_own_to_revoke(inside, people):
    row, _ = AuthToken.objects.create(people.office)
    inside.post(reverse("core:token-revoke"), {"token": row.digest})
    assert AuthToken.objects.filter(digest=row.digest).exists()


def test_account_page_costs_the_same_with_many_tokens(inside, people, django_assert_num_queries):
    for _ in range(5):
        AuthToken.objects.create(people.reviewer)
    with django_assert_num_queries(4):  # session, user, roles, tokens
        inside.get(reverse("core:account"))


def test_code_without_a_secret_to_confirm_says_so(people):
    with pytest.raises(DomainError, match="Start the set-up again"):
        second_factor.second_factor_confirm(actor=people.reviewer, code="123456")
