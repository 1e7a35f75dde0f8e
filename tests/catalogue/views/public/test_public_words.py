"""What the public reads makes no claim that nobody looked up."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from django.conf import settings
from django.urls import reverse

from tests.core.gate.test_permissions_walk import OPEN
from tests.shared import shared

UNSURE = ("from memory", "ISO 18454")
"""A claim from memory, and a standard whose figures were not seen."""

PUBLIC = {
    "core:sign-in": {},
    "core:second-step": {},
    "core:welcome": {"pk": 1, "token": "none"},
    "core:units-set": {},
    "core:healthz": {},
    "core:readyz": {},
    "core:metrics": {},
    "core:schema": {},
    "catalogue:shoe-list": {},
    "catalogue:shoe-detail": {"slug": "public"},
    "catalogue:shoe-similar": {"slug": "public"},
    "catalogue:shoe-picture": {"slug": "public"},
    "catalogue:picture": {},
    "catalogue:photo-file": {"digest": "none", "width": 1},
    "catalogue:shoe-compare": {},
    "catalogue:shoe-replace": {},
    "catalogue:remembered": {},
    "catalogue:icon": {"kind": "icon", "size": 192},
    "catalogue:manifest": {},
    "catalogue:service-worker": {},
    "catalogue:offline": {},
    "catalogue:screen": {},
    "catalogue:poster": {},
    "catalogue:poster-file": {},
    "catalogue:robots": {},
    "catalogue:sitemap": {},
    "catalogue:sitemap-part": {"part": 1},
    "catalogue:store-list": {},
    "catalogue:store-detail": {"slug": "store-a"},
    "catalogue:method": {},
    "catalogue-api:shoe-list": {},
    "catalogue-api:shoe-detail": {"slug": "public"},
    "catalogue-api:shoe-similar": {"slug": "public"},
    "catalogue-api:shoe-curves": {"slug": "public"},
    "catalogue-api:band-list": {},
    "catalogue-api:store-list": {},
    "fittings-api:request-list": {},
    "start:home": {},
    "start:ask": {},
    "start:evidence": {},
    "start:asked": {},
    "customer:card": {"token": "none"},
    "customer:answer": {"token": "none"},
    "customer:signs": {"token": "none"},
    "customer:mail-stop": {"token": "none"},
}
SHOWN = {"catalogue:shoe-detail", "catalogue:method", "catalogue:shoe-list", "core:schema", "catalogue-api:shoe-detail"}


@shared
def published(cast):
    """A shoe of each band, one of them to be looked at."""
    import datetime as dt

    from django.utils import timezone

    from catalogue.models import Band, Brand, ScoreCard, Shoe

    brand = Brand.objects.create(slug="brand", name="Brand")
    for band, stability in zip(
        Band.objects.filter(scale__version="S1").order_by("order"), (40, 55, 65, 75, 90), strict=True
    ):
        slug = "public" if band.order == 3 else f"shoe-{band.order}"
        shoe = Shoe.objects.create(
            slug=slug, brand=brand, name=slug, use="running", stack_heel_mm=30, stack_forefoot_mm=22
        )
        ScoreCard.objects.create(
            shoe=shoe,
            scale=band.scale,
            band=band,
            stability=stability,
            midfoot=50,
            rearfoot=50,
            cushioning=50,
            stability_u=1.0,
            specimens=2,
            tested_on=dt.date(2026, 1, 1),
            scoring_model="S1",
            protocol="P1",
            published_at=timezone.now(),
            published_by=cast.reviewer,
            reason="test",
        )


def test_every_public_address_is_looked_at():
    assert set(PUBLIC) == OPEN


@pytest.mark.parametrize("name", sorted(PUBLIC))
def test_no_public_page_says_what_nobody_looked_up(name, client, published):
    answer = client.get(reverse(name, kwargs=PUBLIC[name]))
    assert answer.status_code < 500
    if name in SHOWN:
        assert answer.status_code == 200
    content = b"".join(answer.streaming_content) if answer.streaming else answer.content
    text = content.decode(errors="replace").casefold()
    assert not [words for words in UNSURE if words.casefold() in text]


def spoken(path):
    """Texts of a module that may reach a page: all but the docstrings of what is not a view or serializer."""
    tree = ast.parse(path.read_text())
    silent = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
        and "api" not in path.parts
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in silent:
            yield node.value


def test_neither_do_templates_nor_texts_in_the_code():
    root = Path(settings.BASE_DIR)
    templates = [path for path in (root / "templates").rglob("*") if path.is_file()]
    modules = [path for app in ("catalogue", "labtests", "fittings", "core") for path in (root / app).rglob("*.py")]
    assert len(templates) > 100
    assert len(modules) > 200
    found = [path.name for path in templates if "from memory" in path.read_text().casefold()]
    found += [path.name for path in modules if any("from memory" in text.casefold() for text in spoken(path))]
    assert found == []
