"""A form of an account that comes back with problems answers 400, as every other form does; one that is shown, 200."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

FORMS = {
    "password-change": {"current_password": "wrong"},
    "email-change": {"email": "no address", "current_password": "wrong"},
    "second-factor": {"password": "wrong"},
    "token-new": {"days": "x"},
}


@pytest.fixture
def inside(people, give_password):
    client = Client()
    give_password("reviewer", client=client)
    return client


@pytest.mark.parametrize(("name", "data"), FORMS.items())
def test_form_is_refused_with_400_and_shown_with_200(inside, name, data):
    address = reverse(f"core:{name}")
    assert inside.get(address).status_code == 200
    for sent in (data, {}):
        response = inside.post(address, sent)
        assert response.status_code == 400
        assert 'class="form-errors"' in response.content.decode()


def test_sign_in_sent_empty_is_refused_and_counts_no_failure(people, give_password, client):
    address = reverse("core:sign-in")
    assert client.get(address).status_code == 200
    for _ in range(20):
        response = client.post(address, {})
    assert response.status_code == 400
    assert "Fill in" in response.content.decode()
    assert give_password("reviewer").status_code == 302


def test_refused_sign_in_is_not_stored_and_says_what_was_typed_except_the_password(people, client):
    response = client.post(reverse("core:sign-in"), {"username": "reviewer", "password": "not the pass phrase"})
    assert response.status_code == 400
    page = response.content.decode()
    assert 'value="reviewer"' in page
    assert "not the pass phrase" not in page
    assert "no-store" in response.headers["Cache-Control"]
