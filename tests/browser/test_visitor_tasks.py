"""Seven things that visitors come for, each done on a phone in five actions at most."""

from __future__ import annotations

import re

import pytest

ACTIONS_MOST = 5
PHONE = {"width": 390, "height": 844, "has_touch": True, "is_mobile": True}


class Visitor:
    """A visitor on a phone who counts what they do: taps, texts that they type, choices."""

    def __init__(self, page, address="/"):
        self.page = page
        self.actions = 0
        page.goto(address)

    def tap(self, target):
        self._done(lambda: target.click())

    def write(self, label, text):
        self.write_in(self.page.get_by_label(label, exact=True), text)

    def write_in(self, field, text):
        self._done(lambda: field.fill(text))

    def write_number(self, key, number):
        """Write a number and leave the field, as closing the keys of a phone does; the results follow."""
        field = self.page.locator(f"#{key}")
        self._done(lambda: field.fill(number))
        field.blur()
        self.waits_for(f"{key}={number}")

    def choose(self, label, option):
        self._done(lambda: self.page.get_by_label(label, exact=True).select_option(label=option))

    def _done(self, act):
        act()
        self.actions += 1
        assert self.actions <= ACTIONS_MOST

    def link(self, name):
        return self.page.get_by_role("link", name=name).first

    def button(self, name):
        return self.page.get_by_role("button", name=name).first

    def open_filters(self):
        self.tap(self.page.locator("summary.filters__button"))

    def waits_for(self, pattern):
        self.page.wait_for_url(re.compile(pattern))


@pytest.fixture
def visitor(visit):
    return Visitor(visit(**PHONE))


def test_first_shoe_is_on_the_first_screen(visitor):
    top = visitor.page.locator(".shoe-table tbody tr").first.bounding_box()["y"]
    assert top < PHONE["height"] - 150


def test_where_do_i_look_at_95_kg_and_30_km_a_week(visitor):
    visitor.tap(visitor.link("Where to start"))
    visitor.tap(visitor.page.get_by_label("none of these"))
    visitor.write_in(visitor.page.get_by_label("Body mass"), "95")
    visitor.write_in(visitor.page.get_by_label("Distance a week"), "30")
    visitor.tap(visitor.page.locator("main form button:not([name])").last)
    visitor.page.get_by_role("heading", name="Start here on the scale").wait_for()
    assert visitor.page.locator(".fit-shoe").count() > 0


def test_us_womens_8_and_a_half(visitor):
    visitor.open_filters()
    visitor.choose("Sizes in", "US women’s")
    size = visitor.page.locator("#size option", has_text=re.compile("US women’s 8.5 ")).first
    size.wait_for(state="attached")
    visitor.choose("Size in stock", size.inner_text())
    visitor.waits_for(r"\?size=")
    visitor.page.locator("#results-title", has_text="of").wait_for()
    assert visitor.page.locator(".shoe-table__sizes").first.inner_text().startswith("about US women’s")
    visitor.page.goto("/")
    assert "US women’s" in visitor.page.locator(".shoe-table__sizes").first.inner_text(), "remembered"


def test_light_low_drop_under_my_price(visitor):
    visitor.open_filters()
    for field, most in (("mass_max", "320"), ("drop_max", "10"), ("price_max", "170")):
        visitor.write_number(field, most)
    visitor.waits_for("mass_max=320.*drop_max=10.*price_max=170")
    visitor.page.locator(".chip", has_text="list price up to 170").wait_for()
    assert visitor.page.locator(".shoe-table tbody tr").count() > 0
    assert visitor.page.locator("#filters-set").inner_text() == "3 set"


def test_which_two_shoes_differ_and_in_what(visitor):
    for place in (0, 3):
        visitor.tap(visitor.page.locator(".shoe-table input[name=shoe]").nth(place))
    assert visitor.page.locator(".tray__shoes li").count() == 2
    visitor.tap(visitor.button("Compare side by side"))
    visitor.page.get_by_role("heading", name=re.compile("What differs from")).wait_for()
    assert "real difference" in visitor.page.locator("main").inner_text()


def test_my_shoe_is_gone_what_now(visitor):
    visitor.tap(visitor.page.locator("summary.site-menu__button"))
    visitor.tap(visitor.link("Replace a shoe"))
    visitor.write("Your shoe", "quillmarrow")
    visitor.tap(visitor.button("Find it"))
    visitor.tap(visitor.page.locator("a[href*='/similar/?available=yes']").first)
    visitor.waits_for("/similar/")
    assert visitor.page.locator("section[aria-labelledby^=near-]").count() > 0


def test_which_store_has_it_in_my_size(visitor):
    visitor.tap(visitor.page.locator(".shoe-table tbody th a").first)
    visitor.waits_for("/shoes/")
    headings = visitor.page.locator("main h2").all_inner_texts()
    assert headings[:2] == ["Stability", "In stock"]
    visitor.choose("Sizes in", "US women’s")
    visitor.tap(visitor.button("Show"))
    store = visitor.page.locator(".stock > div").first
    store.locator("dd", has_text="US women’s").wait_for()
    assert store.locator("dt a").get_attribute("href").startswith("/stores/")


def test_name_that_i_cannot_spell(visitor):
    name = visitor.page.locator(".shoe-table tbody th a").first.inner_text().split()[0]
    visitor.write("Search", name[0] + name[2] + name[1] + name[3:])
    visitor.page.get_by_role("heading", name="We found nothing called").wait_for()
    visitor.tap(visitor.page.locator(".empty a", has_text=re.compile(f"^{name.lower()}$")))
    visitor.waits_for(rf"q={name.lower()}")
    assert visitor.page.locator(".shoe-table tbody th a", has_text=name).count() > 0


def test_slow_press_on_a_result_leads_on_though_the_field_before_it_is_left(visit):
    page = visit(width=1280)
    page.goto("/")
    name = page.locator(".shoe-table tbody th a").first.inner_text()
    page.get_by_label("Search", exact=True).fill(name)
    page.locator(".chip", has_text=name).wait_for()
    box = page.locator(".shoe-table tbody th a", has_text=name).first.bounding_box()
    page.mouse.move(box["x"] + 5, box["y"] + 5)
    page.mouse.down()
    page.wait_for_timeout(500)
    page.mouse.up()
    page.wait_for_url("**/shoes/**")


def test_tray_stays_while_searching_and_paging_and_refuses_a_fifth(visit):
    page = visit(width=1280)
    page.goto("/")
    for place in range(4):
        page.locator(".shoe-table input[name=shoe]").nth(place).check()
    fifth = page.locator(".shoe-table input[name=shoe]").nth(4)
    fifth.click()
    assert not fifth.is_checked()
    assert "Remove one first" in page.locator(".pick__said").inner_text()
    page.goto("/?order=-stability&page=1")
    assert page.locator(".tray__shoes li").count() == 4


def test_first_tap_reads_a_mark_and_the_second_opens_it(visit):
    page = visit(**PHONE)
    page.goto("/")
    mark = page.locator("svg.drawing--tall a.mark").nth(3)
    mark.scroll_into_view_if_needed()
    said = mark.locator("title").text_content()
    mark.locator("rect").tap()
    assert said in page.locator(".readout-line").inner_text()
    assert "/shoes/" not in page.url
    mark.locator("rect").tap()
    page.wait_for_url(re.compile("/shoes/"))


@pytest.mark.parametrize(("width", "drawing"), [(390, "tall"), (820, "wide"), (1440, "wide")])
@pytest.mark.parametrize("view", ["scale", "map"])
def test_targets_of_marks_are_large_enough_and_apart(visit, width, drawing, view):
    page = visit(width=width)
    page.goto(f"/?view={view}")
    kind = ".score-map" if view == "map" else ":not(.score-map)"
    boxes = page.evaluate(
        """kind => [...document.querySelectorAll(`svg.drawing--${kind[0]}${kind[1]} a.mark`)].map(mark => {
            const box = mark.querySelector("rect, .ring").getBoundingClientRect();
            return [box.x, box.y, box.width, box.height];
        })""",
        [drawing, kind],
    )
    assert len(boxes) >= 6
    assert min(min(width, height) for _, _, width, height in boxes) >= 24
    for place, (x, y, wide, high) in enumerate(boxes):
        for other_x, other_y, _, _ in boxes[place + 1 :]:
            is_apart = abs(x - other_x) >= wide - 1 or abs(y - other_y) >= high - 1
            far = ((x - other_x) ** 2 + (y - other_y) ** 2) ** 0.5 >= wide - 1
            assert is_apart or far
