"""The frame that is drawn once gives every visitor the page that the template would."""

from __future__ import annotations

import re

import pytest
from django.shortcuts import render

from catalogue.views.public import visitor_frame


def without_token(html):
    return re.sub(r'(csrfmiddlewaretoken" value=")[^"]+', r"\1", html)


@pytest.mark.parametrize("query", ["", "?band=2&q=%3Cb%3E%26", "?page=1&order=name"])
@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_page_is_as_the_template_draws_it(client, make_shoe, monkeypatch, query, units):
    make_shoe()
    client.cookies["units"] = units
    framed = client.get(f"/{query}").content.decode()
    monkeypatch.setattr(
        "catalogue.views.public.shoe_list.list_page",
        lambda request, results, canonical: render(
            request, visitor_frame.TEMPLATE, {"results": results, "canonical": canonical}
        ),
    )
    drawn = client.get(f"/{query}").content.decode()
    assert without_token(framed) == without_token(drawn)
    assert visitor_frame._GAP not in framed


def test_each_visitor_gets_a_token_of_their_own(client, make_shoe):
    make_shoe()
    pages = [client.get("/").content.decode() for _ in range(2)]
    tokens = [re.search(r'csrfmiddlewaretoken" value="([^"]{64})"', page)[1] for page in pages]
    assert tokens[0] != tokens[1]
    assert "csrftoken" in client.cookies


def test_switching_units_from_the_framed_page_works(make_shoe):
    from django.test import Client

    make_shoe()
    client = Client(enforce_csrf_checks=True)
    page = client.get("/?band=2").content.decode()
    fields = dict(re.findall(r'name="(csrfmiddlewaretoken|next)" value="([^"]*)"', page))
    assert fields["next"] == "/?band=2"
    assert client.post("/units/", fields | {"units": "imperial"}).headers["Location"] == "/?band=2"


def test_somebody_signed_in_sees_their_own_name(client, cast, make_shoe):
    make_shoe()
    client.get("/")
    client.force_login(cast.office)
    assert "office" in client.get("/").content.decode()
    client.logout()
    assert "Staff sign-in" in client.get("/").content.decode()
