"""What was made for somebody who is signed in stays in no cache, on public pages and in the API too."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse


@pytest.mark.parametrize("page", ["catalogue:shoe-list", "catalogue:store-list", "catalogue:method"])
def test_public_page_of_somebody_signed_in_is_not_stored(cast, sign_in, page):
    address = reverse(page)
    assert sign_in(cast.fitter_a).get(address).headers["Cache-Control"] == "no-store"
    assert "no-store" not in Client().get(address).headers.get("Cache-Control", "")


def test_answer_to_a_token_is_not_stored_unless_it_is_the_same_for_everybody(cast, api_for):
    client = api_for(cast.technician)
    assert client.get(reverse("catalogue-api:shoe-detail", args=["no-such"])).headers["Cache-Control"] == "no-store"
    assert client.get(reverse("catalogue-api:store-list")).headers["Cache-Control"] == "no-cache"
