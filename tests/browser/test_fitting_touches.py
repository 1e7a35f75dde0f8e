"""The page of a fitting under the finger: how many touches and keys, how large the targets, what stays in sight.

The bars are targets of our own, not published values.
"""

from __future__ import annotations

import re
import sys

from tests.browser.fitting_page import SAVED, Counted, at_rest, begin, standing

TOUCHES_MAX, KEYS_MAX = 20, 40
HEIGHT_BEFORE_TRY_ONS_MAX = 3500
TARGET_LEAST = 44
# Further down than this the bar has reached the edge of the screen.
SCROLLED_PX = 400


class Walking(Counted):
    """A person who goes down the page: what is touched must be in sight or further down, never above."""

    def touch(self, name, value):
        self.press(self.page.locator("label", has=self.page.locator(f"[name='{name}'][value='{value}']")))

    def press(self, locator):
        assert not self.is_above(locator), "what is touched next is above what is in sight"
        super().press(locator)

    def is_above(self, locator):
        bar = self.page.locator(".fit-top")
        top = bar.bounding_box()["height"] if bar.count() else 0
        return locator.bounding_box()["y"] < 0 or (
            self.page.evaluate("scrollY") > 400 and locator.bounding_box()["y"] < top
        )

    def type(self, *keys):
        """Write where the focus is, a key or a text at a time; Enter leads to the next field."""
        for key in keys:
            self.keys += 1 if key == "Enter" else len(key)
            self.page.keyboard.press(key) if key == "Enter" else self.page.keyboard.type(key)


def test_runner_with_two_try_ons_takes_twenty_touches_and_forty_keys_without_scrolling_back(signed_in, capsys):
    page = signed_in("fitter", width=820, height=1180)
    page.goto("/fittings/")
    person = Walking(page)
    person.press(page.get_by_role("link", name="New fitting").last)
    page.wait_for_url(re.compile("/fittings/drafts/"))
    page.locator("#id_person-name:focus").wait_for()
    person.type("Bea Swift", "Enter", "b@example.org")
    person.touch("person-consent", "yes")
    person.touch("intake-use", "running")
    person.press(page.locator("#id_intake-body_mass_kg"))
    person.type("71", "Enter", "30")
    person.touch("stop-signs", "none")
    for foot in ("left", "right"):
        person.touch(f"{foot}-pronation", "0")
        person.touch(f"{foot}-tibial_rotation", "0")
    person.press(page.locator("#id_left-fpi6"))
    person.type("4", "Enter", "Enter", "4")
    person.press(page.locator("#id_foot-left-length_mm"))
    person.type("265", "Enter", "Enter", "266")
    page.locator("#id_foot-right-length_mm").blur()
    page.locator("#section-match", has_text="EU 42").wait_for()
    at_rest(page)
    assert page.locator("#id_right-fpi6").input_value() == "4"
    assert page.locator("#section-try_ons").bounding_box()["y"] + page.evaluate("scrollY") < HEIGHT_BEFORE_TRY_ONS_MAX
    for row in range(2):
        person.press(page.locator("#fit-next button").first)
        person.touch(f"try-{row}-comfort", str(7 + row))
        page.locator("#fit-places label").nth(row + 1).wait_for()
        at_rest(page)
    assert page.locator("#id_try-0-slug").input_value() != page.locator("#id_try-1-slug").input_value()
    person.press(page.locator("#fit-places").get_by_label(re.compile("comfort 8")))
    person.press(page.get_by_role("button", name="Finish the fitting"))
    page.wait_for_url(re.compile(r"/fittings/\d+/$"))
    with capsys.disabled():
        sys.stdout.write(f"\na runner with two try-ons: {person.count} touches, {person.keys} keys\n")
    assert person.count <= TOUCHES_MAX
    assert person.keys <= KEYS_MAX


def test_bar_stays_in_sight_and_answer_beside_the_inputs_on_a_wide_screen(window):
    page = window()
    begin(page, "Wide Screen")
    page.locator("#fit-best").wait_for()
    for width, height in ((390, 844), (820, 1180), (1100, 800), (1440, 900)):
        page.set_viewport_size({"width": width, "height": height})
        page.locator(".fit-top a", has_text="Choice").click()
        bar = page.locator(".fit-top").bounding_box()
        assert bar["y"] >= -1
        assert bar["y"] + bar["height"] < 160
        for fact in ("#fit-who", "#fit-signs", "#fit-target", "#fit-best"):
            assert page.locator(fact).is_visible()
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        if width >= 1100:
            page.locator(".fit-top a", has_text="Feet").click()
            answer = page.locator("#answer").bounding_box()
            assert answer["y"] >= 0
            assert answer["x"] > page.locator("#section-feet").bounding_box()["x"] + 300


def test_every_target_can_be_touched(window):
    page = window()
    begin(page, "Big Thumb")
    page.locator("#id_foot-left-length_mm").fill("265")
    page.locator("#find").focus()
    page.locator("#section-match", has_text="EU 42").wait_for()
    at_rest(page)
    low = page.evaluate(
        "(least) => [...document.querySelectorAll('#fitting :is(button, select, summary, label:has(:is([type=radio], "
        "[type=checkbox])), input:not([type=hidden], [type=radio], [type=checkbox]), nav a, h3 a)')]"
        ".filter((each) => each.offsetParent && !each.closest('.visually-hidden'))"
        ".filter((each) => each.getBoundingClientRect().height < least - 0.5)"
        ".map((each) => each.outerHTML.slice(0, 80))",
        TARGET_LEAST,
    )
    assert low == []


def test_number_pad_has_a_button_for_the_sign(window):
    page = window()
    begin(page, "Minus Two")
    field = page.locator("#id_left-fpi6")
    assert field.get_attribute("inputmode") == "numeric"
    field.fill("2")
    page.locator(".fit-signed", has=field).get_by_role("button").click()
    page.locator("#find").focus()
    standing(page, "observation", SAVED)
    assert field.input_value() == "\u22122"


def test_names_of_shoes_are_offered_and_no_address_is_shown(window):
    page = window()
    begin(page, "Known Name")
    name = page.locator("#shoes option").first.get_attribute("value")
    with page.expect_response(re.compile("/shoe-names/")):
        page.locator("#id_intake-current_shoe").press_sequentially(name[:6])
    assert name in page.evaluate("[...document.querySelectorAll('#shoes option')].map((each) => each.value)")
    page.locator("#id_try-0-slug").fill(name)
    page.locator("#id_try-0-size").fill("42")
    page.locator("#find").focus()
    standing(page, "try_ons", SAVED)
    page.reload()
    assert page.locator("#id_try-0-slug").input_value() == name


def test_card_is_one_sheet_of_paper(signed_in):
    page = signed_in("fitter", width=820, height=1180)
    page.goto("/fittings/customers/")
    people = page.locator("tbody th a")
    addresses = [person.get_attribute("href") for person in people.all()]
    # Somebody with a fitting: other tests leave customers without one.
    for address in addresses:
        page.goto(address)
        if page.locator("h3 a").count():
            break
    page.locator("h3 a").first.click()
    page.wait_for_url(re.compile(r"/fittings/\d+/$"))
    address = page.url.rstrip("/") + "/card/"
    page.goto(address)
    for paper in ("A4", "Letter"):
        pdf = page.pdf(format=paper)
        assert len(re.findall(rb"/Type\s*/Page[^s]", pdf)) == 1, paper
