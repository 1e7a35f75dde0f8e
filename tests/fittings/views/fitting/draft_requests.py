"""What a browser sends from the page of a fitting: one section by itself, or all of them."""

from __future__ import annotations

import re

HTMX = {"HTTP_HX_REQUEST": "true"}
PERSON = {"person-name": "Ada Example", "person-email": "ada@example.org", "person-consent": "yes"}
PAGE = "5d1c8a52-7f43-4be2-9a54-2b6f0f8f9c11"


def text_of(response):
    return re.sub(r"\s+", " ", response.content.decode())


def section(client, key, name, data, *, page=PAGE, **more):
    return client.post(f"/fittings/drafts/{key}/sections/{name}/", {"page": page} | data | more, **HTMX)


def all_at_once(client, key, do="save", **data):
    always = {"do": do, "page": PAGE, "intake-use": "running"} | ({"stop-signs": ["none"]} if do == "finish" else {})
    return client.post(f"/fittings/drafts/{key}/", always | data)
