"""Every public page, and the catalogue's staff pages, as a browser sees them: accessible, alone, light, policy kept."""

from __future__ import annotations

import json
import re
import urllib.request
from urllib.parse import urlsplit

import pytest

from catalogue.standard import SCALE_S1

WIDTHS = (320, 390, 820, 1440)
PAGES = {
    "scale": "/",
    "scale-filtered": "/?band=2&band=3&use=running",
    "scale-empty": "/?band=5&use=standing&mass_max=100",
    "map": "/?view=map",
    "map-filtered": "/?view=map&band=2",
    "refused": "/?mass_max=heavy",
    "shoe": "/shoes/{one}/",
    "similar": "/shoes/{one}/similar/?available=no",
    "compare": "/compare/?shoe={one}&shoe={two}",
    "compare-none": "/compare/",
    "replace": "/replace/",
    "start": "/start/",
    "ask": "/start/ask/",
    "stores": "/stores/",
    "store-closed": "/stores/none/",
    "screen": "/screen/",
    "poster": "/screen/poster/",
    "remembered": "/remembered/?shoe={one}&shoe={two}",
    "offline": "/offline/",
    "method": "/how-we-measure/",
    "sign-in": "/sign-in/",
    "missing": "/no-such-page/",
}
KILOBYTES_MOST = 150


def go(page, address):
    """Open a page; a 400 or 404 that is meant writes to the console, so only scripts' own errors count there."""
    response = page.goto(address)
    page.wait_for_load_state("networkidle")
    return response


@pytest.fixture(scope="module")
def shoes(practice):
    """Two shoes that the practice publishes, as its own API tells of them."""
    with urllib.request.urlopen(f"{practice.url}/api/catalogue/shoes/", timeout=10) as answer:
        first, second, *_ = json.load(answer)["results"]
    return first, second


@pytest.fixture
def look(chromium, practice, shoes):
    """Return a function that opens an address in a fresh window and returns the page and what was asked and said."""
    contexts = []

    def at(address, width=1440, **options):
        context = chromium.new_context(base_url=practice.url, viewport={"width": width, "height": 900}, **options)
        contexts.append(context)
        page = context.new_page()
        seen = {"requests": [], "console": []}
        page.on("request", lambda request: seen["requests"].append(request.url))
        page.on("console", lambda message: seen["console"].append(message.text) if message.type == "error" else None)
        page.on("pageerror", lambda problem: seen["console"].append(str(problem)))
        one, two = (shoe["slug"] for shoe in shoes)
        seen["response"] = go(page, address.format(one=one, two=two))
        return page, seen

    yield at
    for context in contexts:
        context.close()


def violations(page):
    """Run the rules of WCAG 2.0 to 2.2, A and AA, and of good practice, and say what breaks them."""
    from axe_playwright_python.sync_playwright import Axe

    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    # A list of every element that keeps the rules takes longer than the rules themselves.
    options = {"runOnly": {"type": "tag", "values": tags}, "resultTypes": ["violations"]}
    found = Axe().run(page, options=options).response["violations"]
    return [(rule["id"], [node["html"][:160] for node in rule["nodes"][:3]]) for rule in found]


@pytest.mark.parametrize("name", PAGES)
def test_page_is_accessible_keeps_the_policy_and_never_scrolls_sideways(look, practice, name):
    page, seen = look(PAGES[name])
    check_alone_and_by_the_policy(seen, practice, {"refused": 400, "missing": 404}.get(name, 200))
    page.evaluate("document.querySelectorAll('main details').forEach(part => { part.open = true })")
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert violations(page) == [], width


def check_alone_and_by_the_policy(seen, practice, meant):
    """Nobody else was asked, the console has no word of its own, and the policy has no hole."""
    hosts = {urlsplit(url).netloc for url in seen["requests"] if not url.startswith("data:")}
    assert hosts == {urlsplit(practice.url).netloc}
    assert seen["response"].status == meant
    assert [said for said in seen["console"] if f"status of {meant}" not in said] == []
    policy = seen["response"].headers["content-security-policy"]
    assert "default-src 'self'" in policy
    for hole in ("unsafe-eval", "unsafe-inline", "*", "http:"):
        assert hole not in policy


def test_page_stays_accessible_in_other_schemes(look):
    for options in ({"color_scheme": "dark"}, {"forced_colors": "active"}):
        for name in ("scale", "map", "compare"):
            page, _ = look(PAGES[name], **options)
            assert violations(page) == [], (name, options)


@pytest.mark.parametrize("address", ["/fittings/", "/lab/", "/lab/shoes/", "/outcomes/", "/home/"])
def test_staff_page_breaks_no_rule_of_accessibility(signed_in, address):
    page = signed_in({"/lab/": "reviewer", "/lab/shoes/": "reviewer", "/outcomes/": "office"}.get(address, "manager"))
    go(page, address)
    assert violations(page) == []


@pytest.mark.parametrize("address", ["/", "/?view=map"])
def test_catalogue_weighs_less_than_150_kilobytes_in_all(chromium, practice, address):
    context = chromium.new_context(base_url=practice.url)
    page = context.new_page()
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    sizes, held = {}, set()
    session.on("Network.responseReceived", lambda event: held.add(event["requestId"]))
    session.on("Network.loadingFinished", lambda event: sizes.update({event["requestId"]: event["encodedDataLength"]}))
    go(page, address)
    assert len(held) >= 6, "page, styles, script, icon"
    assert held <= set(sizes)
    total = sum(sizes.values())
    context.close()
    assert 10_000 < total < KILOBYTES_MOST * 1024, f"{total / 1024:.1f} KB"


def band_box(page, order):
    """The checkbox of one band: anchored, for the name of one band can end as another's does."""
    name = SCALE_S1[order - 1][1]
    return page.locator("label.toggle", has_text=re.compile(rf"^\s*{name}")).locator("input")


def test_filters_swap_the_results_alone_and_the_address_follows(visit):
    page = visit()
    page.goto("/?view=map")
    page.evaluate("document.querySelector('h1').dataset.same = 'yes'")
    band_box(page, 2).check()
    page.wait_for_url(re.compile(r"\?band=2&view=map$"))
    assert page.locator("h1").get_attribute("data-same") == "yes"
    assert page.get_by_role("link", name="Midfoot against rearfoot").get_attribute("aria-current") == "true"
    page.get_by_role("link", name="Along the scale").click()
    page.wait_for_url(re.compile(r"\?band=2$"))
    band_box(page, 3).check()
    page.wait_for_url(re.compile(r"\?band=2&band=3$"))
    assert page.locator("svg.score-map").count() == 0
    page.go_back()
    page.wait_for_url(re.compile(r"\?band=2$"))
    assert page.locator("h1").get_attribute("data-same") is None or page.locator("#results h2").is_visible()


@pytest.mark.parametrize("view", ["scale", "map"])
def test_every_mark_is_reached_by_keyboard_and_says_its_shoe(visit, view):
    page = visit()
    page.goto(f"/?view={view}")
    drawing = page.locator(f"svg.drawing--wide{'.score-map' if view == 'map' else ''}")
    first = drawing.locator("a.mark").first
    first.focus()
    assert first.locator(".readout").is_visible()
    page.keyboard.press("Tab")
    second = drawing.locator("a.mark").nth(1)
    assert second.evaluate("mark => mark === document.activeElement")
    assert first.locator(".readout").is_hidden()
    title = second.locator("title").text_content().split(":")[0]
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/shoes/"))
    assert page.locator("h1").inner_text() in title


def test_pages_work_without_scripts(chromium, practice, shoes):
    words = shoes[0]["name"][:4].lower()
    context = chromium.new_context(base_url=practice.url, java_script_enabled=False)
    page = context.new_page()
    page.goto("/")
    page.get_by_label("Search").fill(words)
    page.get_by_role("button", name="Show shoes").click()
    assert re.search(rf"[?&]q={words}", page.url)
    page.get_by_role("link", name="Midfoot against rearfoot").click()
    assert "view=map" in page.url
    page.locator("svg.drawing--wide a.mark").first.click()
    assert "/shoes/" in page.url
    page.get_by_role("button", name="Imperial units").click()
    assert "oz" in page.locator("main").inner_text()
    page.get_by_text("In units of measurement").click()
    assert "in·lbf" in page.locator("main").inner_text()
    context.close()
