"""A person at the page of a fitting, for the tests of it in Chromium."""

from __future__ import annotations

import re
import time

# A practised person's pace: a touch with the look before it, and a key (keystroke-level model: 1.1 s pointing and 0.2 s
# pressing, 1.35 s of thought at each, 0.28 s a key of an average typist; from memory).
TOUCH_SECONDS, KEY_SECONDS = 1.1 + 0.2 + 1.35, 0.28


class Counted:
    """A person at the page, whose touches and filled fields are counted."""

    def __init__(self, page):
        self.page, self.count, self.keys = page, 0, 0

    def touch(self, name, value):
        button = self.page.locator(f"[name='{name}'][value='{value}']")
        # Where the page moved under the finger, a person touches again: that counts too.
        for _ in range(2):
            self.count += 1
            self.page.locator("label", has=button).click()
            if button.is_checked():
                return

    def try_on(self, button):
        # Where the answer moved under the finger, a person touches again: that counts too.
        for _ in range(2):
            self.press(button)
            if self.page.locator("[name='try-0-slug']").input_value():
                return

    def press(self, locator):
        self.count += 1
        locator.click()

    def fill(self, field, text):
        self.count += 1
        self.keys += len(text)
        self.page.locator(f"#id_{field}").fill(text)

    def pick(self, field, value):
        self.count += 2
        self.page.locator(f"#id_{field}").select_option(value)

    def seconds(self):
        return self.count * TOUCH_SECONDS + self.keys * KEY_SECONDS


def begin(page, name):
    page.goto("/fittings/new/")
    page.locator("#id_person-name").fill(name)
    page.locator("label", has=page.locator("[name='intake-use'][value='running']")).click()
    page.locator("label", has=page.locator("[name='person-consent'][value='yes']")).click()
    standing(page, "person", SAVED)


def answer_stop_signs(page):
    """Tick "None of these": a fitting is not finished while the question about stop signs has no answer."""
    page.locator("label", has=page.locator("[name='stop-signs'][value='none']")).click()


SAVED = re.compile(r"^\s*Saved ")


def standing(page, section, words):
    page.locator(f"#state-{section} [data-kind]", has_text=words).wait_for()


def at_rest(page):
    """Wait until nothing is asked and the last answer is older than any delay before the next question."""
    is_at_rest = (
        "!document.querySelector('.htmx-request, .htmx-swapping, .htmx-settling') && performance.now() > 1000 + "
        "Math.max(...performance.getEntriesByType('resource').map((each) => each.responseEnd))"
    )
    deadline = time.monotonic() + 30
    # The page's policy forbids what waits for an expression.
    while not page.evaluate(is_at_rest):
        assert time.monotonic() < deadline, "the page goes on asking"
        page.wait_for_timeout(100)


def copies(page):
    """How many fittings have something unsaved in the browser's store; htmx keeps an address of its own there."""
    return page.evaluate("Object.keys(sessionStorage).filter((key) => key.startsWith('fitting:')).length")
