"""The wall on a display: large enough to read, turning by itself, and the same as a poster."""

from __future__ import annotations

import itertools
import re
from decimal import Decimal
from pathlib import Path
from xml.etree import ElementTree

import pytest
from django.conf import settings

from catalogue.drawings.screen import POSTER_MOST
from catalogue.views.public import screen
from tests.reference.legibility import CAPITAL_SHARE, LEAST_ARC_MINUTES, letter_height_mm
from tests.shared import shared

DISTANCE_M, SCREEN_MM, SCREEN_PX = 4.0, 1218.0, 1920
"""A display of 55 inches, 16:9, four metres away."""

FORMATS = 2
"""The scale is drawn for a wide display and for an upright one; one of them is shown."""

CSS = Path(settings.BASE_DIR) / "catalogue" / "static" / "catalogue" / "screen.css"


@shared
def wall(make_shoe, make_store):
    """Thirteen shoes, two of them at the harbour."""
    from tests.stock import stock_set

    store = make_store()
    shoes = [make_shoe(f"shoe-{number}", stability=44.0 + 3 * number) for number in range(13)]
    for shoe in shoes[:2]:
        stock_set(actor=None, store=store, shoe=shoe, size_eu=Decimal(42), quantity=1)
    return shoes


def names(page):
    return re.findall(r'screen__name">Corvane ([^<]+) 1<', page)


def next_of(page):
    return re.search(r'hx-get="([^"]+)"', page)[1].replace("&amp;", "&")


def test_pages_turn_through_all_shoes_and_begin_again(client, wall):
    first = client.get("/screen/").content.decode()
    assert f'hx-trigger="every {screen.SECONDS}s"' in first
    assert f'<noscript><meta http-equiv="refresh" content="{screen.SECONDS};url={next_of(first)}"></noscript>' in first
    second = client.get(next_of(first)).content.decode()
    third = client.get(next_of(second)).content.decode()
    assert names(first) + names(second) + names(third) == [f"shoe-{number}" for number in range(13)]
    assert names(client.get(next_of(third)).content.decode()) == names(first)
    assert names(client.get("/screen/?page=4").content.decode()) == names(first), "shoes went since"


def test_store_shows_its_own_shoes_and_needs_nobody_to_press(client, wall):
    page = client.get("/screen/?store=harbour").content.decode()
    assert names(page) == ["shoe-0", "shoe-1"]
    assert page.count("<circle") == 2 * FORMATS
    assert next_of(page) == "/screen/?store=harbour&page=1"
    assert "<button" not in page
    assert "<nav" not in page


def test_page_can_be_made_to_stay(client, wall):
    page = client.get("/screen/?page=2&still=yes").content.decode()
    assert "hx-get" not in page
    assert "http-equiv" not in page


def test_new_scores_are_marked_for_two_weeks(client, wall):
    from datetime import timedelta

    from django.utils import timezone

    from catalogue.models import ScoreCard

    old = timezone.now() - timedelta(days=screen.NEW_DAYS + 1)
    ScoreCard.objects.exclude(shoe__slug="shoe-1").update(published_at=old)
    from catalogue.selectors.public import published

    published.published_days_at = published.kept_with_shoes(published.published_days)
    screen.published_days_at = published.published_days_at
    page = client.get("/screen/?store=harbour").content.decode()
    assert page.count('screen__new">new<') == 1
    assert page.count("is-new") == FORMATS


def test_store_without_shoes_says_so(client, make_store):
    make_store()
    page = client.get("/screen/?store=harbour").content.decode()
    assert "No measured shoe is in stock here." in page


@pytest.mark.parametrize("query", ["store=nowhere", "page=0", "page=x", "paper=a9", "store=%00"])
@pytest.mark.parametrize("address", ["/screen/", "/screen/poster/", "/screen/poster.svg"])
def test_address_that_makes_no_sense_is_refused_in_words(client, make_shoe, address, query):
    make_shoe()
    response = client.get(f"{address}?{query}")
    assert response.status_code == (200 if query == "store=%00" else 400)


def test_cost_is_the_same_for_many_shoes(client, wall, make_shoe, django_assert_max_num_queries):
    client.get("/screen/")
    with django_assert_max_num_queries(3):
        client.get("/screen/?page=2")


def test_every_letter_can_be_read_from_four_metres_where_the_display_hangs_upright():
    """Sizes of fonts in parts of 1920 px, now the height, on the same 1218 mm."""
    text = CSS.read_text()
    upright = text[text.index("@media (orientation: portrait)") :]
    px_per_mm = SCREEN_PX / SCREEN_MM
    parts = dict(
        re.findall(r"(\.\S+)[^{}]*\{[^{}]*font-size: max\([^,]+, calc\(([\d.]+) \* var\(--part\)\)\)", upright)
    )
    sizes = {name: float(part) * SCREEN_PX / 100 for name, part in parts.items()}
    assert set(sizes) == {".screen", ".screen__list", ".screen__foot,"}
    assert min(sizes.values()) >= letter_height_mm(DISTANCE_M, LEAST_ARC_MINUTES) * px_per_mm / CAPITAL_SHARE
    assert sizes[".screen__list"] >= letter_height_mm(DISTANCE_M) * px_per_mm / CAPITAL_SHARE


def test_scale_of_an_upright_display_is_drawn_for_its_width(client, wall):
    page = client.get("/screen/").content.decode()
    wide, tall = re.findall(r'screen__scale--(?:wide|tall)" viewBox="0 0 (\d+) [\d.]+"', page)
    # One px of the drawing is as large on either, so that the names of the bands are as well.
    assert int(wide) / SCREEN_PX == pytest.approx(int(tall) / 1080, rel=0.01)


def test_every_letter_of_the_display_can_be_read_from_four_metres():
    """Sizes of fonts in `vw` and in px of the drawing, against the angle that ISO 9241-3 asks for."""
    text = CSS.read_text()
    px_per_mm = SCREEN_PX / SCREEN_MM
    sizes = [float(size) * SCREEN_PX / 100 for size in re.findall(r"font-size: max\([^,]+, ([\d.]+)vw\)", text)]
    assert len(sizes) == 5
    # The drawing is as wide as the page less its edges.
    (drawn,) = re.findall(r"\.screen__scale text \{ font: 600 ([\d.]+)px", text)
    sizes.append(float(drawn) * SCREEN_PX * 0.94 / 1800)
    least = letter_height_mm(DISTANCE_M, LEAST_ARC_MINUTES) * px_per_mm / CAPITAL_SHARE
    assert min(sizes) >= least
    preferred = letter_height_mm(DISTANCE_M) * px_per_mm / CAPITAL_SHARE
    (names_and_scores,) = re.findall(r"\.screen__list \{[^}]*font-size: max\([^,]+, ([\d.]+)vw\)", text)
    assert float(names_and_scores) * SCREEN_PX / 100 >= preferred


def test_nothing_moves_for_those_who_asked_for_less():
    text = CSS.read_text()
    moving = text[text.index("@media (prefers-reduced-motion: no-preference)") :]
    assert "animation" in moving
    assert "animation" not in text.replace(moving, "")


@pytest.mark.parametrize(("paper", "width", "height"), [("a2", 420, 594), ("a1", 594, 841), ("a0", 841, 1189)])
def test_poster_is_a_drawing_of_the_size_of_its_paper(client, wall, paper, width, height):
    response = client.get(f"/screen/poster.svg?paper={paper}")
    assert response.headers["Content-Type"].startswith("image/svg+xml")
    root = ElementTree.fromstring(response.content)
    assert (root.get("width"), root.get("height")) == (f"{width}mm", f"{height}mm")
    said = "".join(root.itertext())
    for number in range(13):
        assert f"Corvane shoe-{number} 1" in said
    assert "Very little hold" in said


def test_poster_names_no_two_shoes_in_one_place(client, wall):
    root = ElementTree.fromstring(client.get("/screen/poster.svg").content)
    places = [(text.get("text-anchor"), float(text.get("y"))) for text in root.iter("{*}text") if text.get("y")]
    for side in ("start", "end"):
        heights = sorted(y for anchor, y in places if anchor == side)
        assert all(second - first >= 2.6 for first, second in itertools.pairwise(heights))


def test_page_of_the_poster_can_be_printed_as_large_as_the_paper(client, wall):
    page = client.get("/screen/poster/?paper=a1&store=harbour").content.decode()
    assert "catalogue/poster_a1.css" in page
    assert 'href="/screen/poster.svg?store=harbour&amp;paper=a1"' in page
    for paper in ("a0", "a1", "a2"):
        assert "@page { size:" in (CSS.parent / f"poster_{paper}.css").read_text()


def test_poster_has_room_for_so_many_and_no_more(client, wall, monkeypatch):
    assert POSTER_MOST > 200
    monkeypatch.setattr("catalogue.drawings.screen.POSTER_MOST", 12)
    response = client.get("/screen/poster/")
    assert response.status_code == 400
    assert "room for 12 shoes, not for 13. Choose a store." in response.content.decode()
