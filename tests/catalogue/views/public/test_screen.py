"""The wall on a display: large enough to read, turning by itself, and the same as a poster."""

from __future__ import annotations

import itertools
import re
from decimal import Decimal
from pathlib import Path
from xml.etree import ElementTree

import pytest
from django.conf import settings

from catalogue.drawings.screen import LISTED_LEAST, POSTER_MOST, TALL, WIDE, screen_scale
from catalogue.selectors import BandRow, ShoePoint
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


@shared
def full_wall(make_shoe, make_store):
    """A hundred shoes at the harbour, most of them as stable as some others."""
    from catalogue.services import StockLine, stock_count_record

    shoes = [make_shoe(f"shoe-{number}", stability=52.0 + number % 20 / 4) for number in range(100)]
    lines = [StockLine(shoe, Decimal(42), 1) for shoe in shoes]
    stock_count_record(actor=None, store=make_store(), lines=lines)


def test_hundred_shoes_take_turns_and_their_scale_has_room(client, full_wall, django_assert_max_num_queries):
    pages = -(-100 // screen.LISTED)
    address, seen = "/screen/?store=harbour", []
    client.get(address)
    for number in range(1, pages + 1):
        with django_assert_max_num_queries(3):
            page = client.get(address).content.decode()
        assert f"<p>{number} of {pages}</p>" in page
        assert page.count("<circle") == 100 * FORMATS, "a mark for each, on every page"
        heights = re.findall(r'viewBox="0 0 \d+ ([\d.]+)"', page)
        for height, shape in zip(heights, (WIDE, TALL), strict=True):
            assert float(height) <= shape.room + shape.head
        seen += names(page)
        address = next_of(page)
    assert sorted(seen) == sorted(f"shoe-{number}" for number in range(100))


def test_shoes_of_one_score_overlap_rather_than_take_the_room_of_the_names():
    bands = [
        BandRow("S1", 1, "Little hold", None, 50.0, "", None, 0),
        BandRow("S1", 2, "Strong hold", 50.0, None, "", None, 100),
    ]
    points = [ShoePoint(f"shoe-{number}", "", "", "", 55.0, None, 2, "Strong hold", True) for number in range(100)]
    scale = screen_scale(points, bands, WIDE, listed={"shoe-7"}, new=set())
    assert float(scale.height) == WIDE.room + WIDE.head
    assert all(0 <= float(mark.y) < float(scale.base) for mark in scale.marks)
    assert [float(mark.radius) >= LISTED_LEAST for mark in scale.marks] == [False] * 99 + [True]


@pytest.mark.parametrize(("letters", "is_long"), [(screen.LONG, False), (screen.LONG + 1, True)])
def test_names_of_a_page_with_a_long_one_are_smaller(client, make_shoe, letters, is_long):
    make_shoe("short")
    make_shoe("long", name="a" * (letters - len("Corvane  1")))
    page = client.get("/screen/").content.decode()
    assert f'class="screen__list{" is-long" if is_long else ""}"' in page


def test_cost_is_the_same_for_many_shoes(client, wall, make_shoe, django_assert_max_num_queries):
    client.get("/screen/")
    with django_assert_max_num_queries(3):
        client.get("/screen/?page=2")


def font_sizes(styles):
    """Sizes of fonts in px of the longer side, by selector."""
    found = re.findall(r"(\.[^{}]+?) \{[^{}]*font-size: max\([^,]+, calc\(([\d.]+) \* var\(--part\)\)\)", styles)
    return {selector: float(parts) * SCREEN_PX / 100 for selector, parts in found}


def least_font_size(*arc_minutes):
    return letter_height_mm(DISTANCE_M, *arc_minutes) * SCREEN_PX / SCREEN_MM / CAPITAL_SHARE


def test_every_letter_can_be_read_from_four_metres_where_the_display_hangs_upright():
    """A part is a hundredth of the height, which is on the same 1218 mm."""
    text = CSS.read_text()
    sizes = font_sizes(text[text.index("@media (orientation: portrait)") :])
    assert set(sizes) == {".screen h1", ".screen__list", ".is-long .screen__name"}
    assert min(sizes.values()) >= least_font_size(LEAST_ARC_MINUTES)
    assert sizes[".screen__list"] >= least_font_size()


def test_scale_of_an_upright_display_is_drawn_for_its_width(client, wall):
    page = client.get("/screen/").content.decode()
    wide, tall = re.findall(r'screen__scale--(?:wide|tall)" viewBox="0 0 (\d+) [\d.]+"', page)
    # One px of the drawing is as large on either, so that the names of the bands are as well.
    assert int(wide) / SCREEN_PX == pytest.approx(int(tall) / 1080, rel=0.01)


def test_every_letter_of_the_display_can_be_read_from_four_metres():
    """Sizes of fonts in parts and in px of the drawing, against the angle that ISO 9241-3 asks for."""
    text = CSS.read_text()
    sizes = font_sizes(text[: text.index("@media (orientation: portrait)")])
    assert len(sizes) == 6
    # The drawing is as wide as the page less its edges.
    (drawn,) = re.findall(r"\.screen__scale text \{ font: 600 ([\d.]+)px", text)
    least = least_font_size(LEAST_ARC_MINUTES)
    assert min(*sizes.values(), float(drawn) * SCREEN_PX * 0.94 / 1800) >= least
    assert sizes[".screen__list"] >= least_font_size()


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
