"""A visitor's first minute on a slow phone: Largest Contentful Paint, and how soon a press is answered.

Run with ``python -m bench.visitor --url http://127.0.0.1:8000`` while a demo is served there with STATIC_MANIFEST=1, so
that files are sent compressed as in production. Chromium works at a quarter of its speed
(`Emulation.setCPUThrottlingRate` 4) behind 1.6 Mbit/s with 150 ms of latency, as a 390 px wide phone, with an empty
cache each time. The bars are LCP ≤ 1.5 s and a press answered within 100 ms; one answered within 16 ms is reported as
0. Both are reported, not tested: they depend on what else the machine does, so the load average is printed beside them.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
from dataclasses import dataclass
from typing import Any

from playwright.sync_api import Browser, Page, sync_playwright

from bench.measure import Line, report

ROUNDS = 5
SLOWER = 4
BITS_A_SECOND, LATENCY_MS = 1_600_000, 150
LCP_MOST_S, PRESS_MOST_MS = 1.5, 100.0
PHONE = {"width": 390, "height": 844}

OBSERVE = """
window.seen = { lcp: 0, press: 0, bytes: 0 };
new PerformanceObserver((list) => { for (const each of list.getEntries()) seen.lcp = each.startTime; })
  .observe({ type: "largest-contentful-paint", buffered: true });
new PerformanceObserver((list) => {
  for (const each of list.getEntries()) if (each.interactionId) seen.press = Math.max(seen.press, each.duration);
}).observe({ type: "event", buffered: true, durationThreshold: 16 });
"""
WEIGHT = """
() => [...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")]
  .filter((each) => !each.name.includes("/photos/") && !each.name.includes("worker"))
  .reduce((sum, each) => sum + each.transferSize, 0)
"""


@dataclass(frozen=True, slots=True)
class Visit:
    """What to open, and what to press once it is there."""

    name: str
    address: str
    press: str


@dataclass(frozen=True, slots=True)
class Seen:
    """One visit: seconds to the largest paint, ms to the paint after a press, bytes that were sent."""

    lcp_s: float
    press_ms: float
    sent_bytes: float


def _phone(browser: Browser, url: str) -> Page:
    context = browser.new_context(viewport=PHONE, service_workers="block")  # type: ignore[arg-type]
    page = context.new_page()
    page.add_init_script(OBSERVE)
    line = context.new_cdp_session(page)
    line.send("Network.enable")
    conditions = {"offline": False, "latency": LATENCY_MS, "uploadThroughput": BITS_A_SECOND / 8}
    line.send("Network.emulateNetworkConditions", conditions | {"downloadThroughput": BITS_A_SECOND / 8})
    line.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    return page


def look(browser: Browser, url: str, visit: Visit) -> Seen:
    page = _phone(browser, url)
    page.goto(url + visit.address, wait_until="load")
    page.wait_for_timeout(500)
    sent = page.evaluate(WEIGHT)
    lcp = page.evaluate("() => seen.lcp")
    box = page.locator(visit.press).first.bounding_box()
    assert box is not None
    # A locator's own click looks in the page for what it hits, which would be counted as the page's work.
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.wait_for_timeout(600)
    pressed = page.evaluate("() => seen.press")
    page.context.close()
    return Seen(lcp / 1000, float(pressed), float(sent))


def _first_shoe(browser: Browser, url: str) -> str:
    page = browser.new_page()
    page.goto(url + "/")
    found = page.locator('a[href^="/shoes/"]').first.get_attribute("href") or "/"
    page.close()
    return found


def measure(url: str) -> dict[str, list[Seen]]:
    with sync_playwright() as playwright:
        path = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "chromium-headless-shell"))), None)
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        visits = (
            Visit("list of shoes", "/", "summary.filters__button"),
            Visit("a shoe", _first_shoe(browser, url), "summary"),
            Visit("where to start", "/start/", "input[type=radio]"),
        )
        found = {visit.name: [look(browser, url, visit) for _ in range(ROUNDS)] for visit in visits}
        browser.close()
    return found


def lines_of(found: dict[str, list[Seen]]) -> list[Line]:
    lines = []
    most = f"≤ {PRESS_MOST_MS:g} ms"
    for name, visits in found.items():
        lcp = statistics.median(visit.lcp_s for visit in visits)
        press = statistics.median(visit.press_ms for visit in visits)
        sent = statistics.median(visit.sent_bytes for visit in visits) / 1000
        lines += [
            Line(f"{name}: largest contentful paint", lcp, "s", target=f"≤ {LCP_MOST_S} s", met=lcp <= LCP_MOST_S),
            Line(
                f"{name}: a press is answered",
                press,
                "ms",
                target=most,
                met=press <= PRESS_MOST_MS,
            ),
            Line(f"{name}: sent, without photos", sent, "kB", target="≤ 70 kB", met=sent <= 70),
        ]
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--url", default="http://127.0.0.1:8000", help="of a served demo practice")
    url: Any = parser.parse_args().url.rstrip("/")
    before = os.getloadavg()[0]
    found = measure(url)
    report(
        f"A first visit on a slow phone, median of {ROUNDS}; load average {before:.1f} to {os.getloadavg()[0]:.1f}",
        lines_of(found),
    )


if __name__ == "__main__":
    main()
