"""What the public catalogue costs at 48, 10,000 and 100,000 shoes in 500 stores, beside its floors.

    python -m bench.catalogue [shoes …]

Served by granian with the settings of production; eight kept connections ask, server and load on the same cores. The
floors are in `bench/floor_urls.py`. Data is kept between runs below `.data/bench/`.
"""

from __future__ import annotations

import contextlib
import json
import os
import random
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from bench.asking import Client, Load, load, request_for
from bench.measure import ROOT, Line, interleave, open_practice, report, request_log

SIZES = (48, 10_000, 100_000)
ADDRESSES = 400
ROUNDS = 3
NEAR = 12
PAGE_BYTES = "bench-page.html"


@dataclass(frozen=True, slots=True)
class Served:
    """A bench's server: its port, the addresses by what they ask, the mark of one page."""

    port: int
    asked: Mapping[str, list[bytes]]


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextlib.contextmanager
def _serving(environment: Mapping[str, str]) -> Iterator[int]:
    port = _free_port()
    # The API would soon refuse a visitor who asks as often as a bench.
    settings = {
        **environment,
        "DJANGO_SETTINGS_MODULE": "bench.floor_settings",
        "API_VISITOR_REQUESTS_PER_MINUTE": "0",
    }
    # As `manage.py serve` does, without collecting the static files once more.
    command = [sys.executable, "-m", "granian", "config.wsgi:application", "--interface=wsgi", "--workers=2"]
    command += ["--blocking-threads=2", "--no-ws", f"--port={port}", "--log-level=warning"]
    with request_log(settings) as log:
        server = subprocess.Popen(command, cwd=ROOT, env=settings, stderr=log)
    try:
        for _ in range(240):
            with contextlib.suppress(OSError):
                if Client(port).ask(request_for("/healthz"))[0] == 200:
                    break
            time.sleep(0.25)
        yield port
    finally:
        server.send_signal(signal.SIGINT)
        server.wait(timeout=30)


def _queries(shoes: int, rng: random.Random) -> list[str]:
    """Return query strings of three filters, a store and a size, no two alike; most leave something."""
    from catalogue.models import StockItem

    found = set()
    while len(found) < ADDRESSES:
        pick = StockItem.objects.filter(quantity__gt=0, shoe__slug=f"shoe-{rng.randint(1, shoes):06}").order_by("?")
        line = pick.values_list("store__slug", "size_eu", "shoe__use", "shoe__score_cards__band__order").first()
        if line is None:
            continue
        store, size, use, band = line
        asked = {"band": band, "use": use, "cushioning_min": rng.randint(20, 40), "size": size, "store": store}
        found.add(urlencode(asked))
    chosen = sorted(found)
    rng.shuffle(chosen)
    return chosen


def _addresses(shoes: int) -> dict[str, list[str]]:
    from catalogue.api.views import PAGE_SIZE

    rng = random.Random(7)
    queries = _queries(shoes, rng)
    pages = max(1, shoes // PAGE_SIZE)
    slugs = [f"shoe-{rng.randint(1, shoes):06}" for _ in range(ADDRESSES)]
    return {
        "list": [f"/?{query}" for query in queries],
        "list again": [f"/?{queries[0]}"],
        "all shoes": ["/"],
        "floor list": [f"/floor/list/?{query}" for query in queries],
        "shoe": [f"/shoes/{slug}/" for slug in slugs],
        "similar": [f"/shoes/{slug}/similar/" for slug in slugs],
        "api": [f"/api/catalogue/shoes/?order=-cushioning&page={rng.randint(1, pages)}" for _ in range(ADDRESSES)],
        "api filtered": [f"/api/catalogue/shoes/?{query}" for query in queries],
        "static file": [f"/static/{PAGE_BYTES}"],
    }


def _ask(port: int, address: str, **headers: str) -> tuple[int, bytes, bytes]:
    return Client(port).ask(request_for(address, **headers))


def _unchanged(port: int, address: str) -> bytes:
    """Return the request of a reader who has the page already: with its mark and the cookie it was made for."""
    _, head, _ = _ask(port, address)
    cookies = [
        line.split(b":", 1)[1].strip() for line in head.split(b"\r\n") if line.lower().startswith(b"set-cookie:")
    ]
    cookie = b"; ".join(cookie.partition(b";")[0] for cookie in cookies).decode()
    kept = {"Cookie": cookie} if cookie else {}
    _, head, _ = _ask(port, address, **kept)
    tag = next(line.split(b":", 1)[1].strip() for line in head.split(b"\r\n") if line.lower().startswith(b"etag:"))
    request = request_for(address, **kept, If_None_Match=tag.decode())
    status = Client(port).ask(request)[0]
    if status != 304:
        raise SystemExit(f"{address} with its own mark was answered {status}, not 304")
    return request


def _loaded(port: int, name: str, requests: list[bytes], **how: Any) -> Load:
    """Load one contestant; the answers must all be 200, or 304 where nothing changed."""
    found = load(port, requests, **how)
    if not found.statuses <= {200, 304}:
        raise SystemExit(f"{name} was answered with {sorted(found.statuses)}")
    return found


def _throughput(port: int, asked: Mapping[str, list[bytes]]) -> dict[str, list[float]]:
    """Load every contestant once a round."""
    rates: dict[str, list[float]] = {name: [] for name in asked}
    for turn in range(ROUNDS + 1):
        for name, requests in asked.items():
            found = _loaded(port, name, requests, start=turn * 61)
            if turn:
                rates[name].append(found.per_second)
    return rates


def _latency(port: int, asked: Mapping[str, list[bytes]]) -> dict[str, float]:
    """Return the median milliseconds of one request at a time."""
    return {
        name: 1000 * statistics.median(_loaded(port, name, requests, duration=1.5, connections=1, start=17).seconds)
        for name, requests in asked.items()
    }


def _scan(shoes: int) -> dict[str, float]:
    """Time the nearest shoes beside a plain numpy scan over the same table, computing alone, ms."""
    import numpy as np

    from catalogue import selectors
    from catalogue.selectors.public.similar import prepared

    columns = selectors.columns_at(selectors.revision())
    table = prepared(columns)
    values, u = columns.values, np.nan_to_num(columns.u)
    spread = np.nanstd(values, axis=0, ddof=1) ** 2
    rng = random.Random(3)
    rows = [rng.randrange(shoes) for _ in range(20)]

    def scan() -> None:
        for row in rows:
            gaps = (values - values[row]) ** 2 / (spread + u**2 + u[row] ** 2)
            far = np.nanmean(gaps, axis=1)
            few = np.argpartition(far, min(NEAR, shoes - 1))[: NEAR + 1]
            few[np.argsort(far[few])]

    def nearest() -> None:
        for row in rows:
            table.nearest(row, NEAR)

    timed = interleave({"scan": scan, "nearest": nearest}, rounds=9)
    return {name: 1000 * timing.median / len(rows) for name, timing in timed.items()}


def _shoes_told(port: int, address: str) -> int:
    return len(json.loads(_ask(port, address)[2])["results"])


def _publish(port: int) -> float:
    """Publish a score and ask for it at once; return the milliseconds of the first list that shows it."""
    import datetime as dt

    from catalogue.models import Shoe
    from catalogue.services import PublishedScores, score_card_publish
    from core.models import User

    shoe, user = Shoe.objects.get(slug="shoe-000007"), User.objects.get(username="bench")
    mark = round(random.uniform(150, 900), 1)
    scores = PublishedScores(
        scale="S1", band=5, stability=mark, midfoot=99.0, rearfoot=99.0, cushioning=50.0, specimens=2,
        tested_on=dt.date(2026, 3, 4), scoring_model="S1", protocol="P1", stability_u=0.5,
    )  # fmt: skip
    clients = [Client(port) for _ in range(4)]
    score_card_publish(actor=user, shoe=shoe, scores=scores, reason="bench")
    first = 0.0
    for client in clients:
        begin = time.perf_counter()
        _, _, body = client.ask(request_for("/?order=-stability"))
        first = max(first, time.perf_counter() - begin)
        if f">{mark}".encode() not in body:
            raise SystemExit(f"a published score of {mark} was not on the next request")
    return 1000 * first


def measure(shoes: int) -> dict[str, float]:
    """Measure one size and return its figures by name."""
    environment = open_practice(f"catalogue-{shoes}", keep=True)
    from django.conf import settings
    from django.core.management import call_command
    from django.test import Client as TestClient

    from bench import catalogue_data

    # Nothing of the vendor's is asked for here, and compressing it takes a minute.
    settings.STATICFILES_DIRS = []
    call_command("collectstatic", interactive=False, verbosity=0)
    if not catalogue_data.is_loaded(shoes):
        begin = time.perf_counter()
        catalogue_data.load(shoes)
        print(f"{shoes} shoes loaded in {time.perf_counter() - begin:.0f} s", flush=True)
    addresses = _addresses(shoes)
    page = TestClient().get(addresses["list"][0]).content
    static = Path(environment["STATIC_ROOT"])
    static.mkdir(parents=True, exist_ok=True)
    (static / PAGE_BYTES).write_bytes(page)
    with _serving(environment) as port:
        asked = {name: [request_for(address) for address in found] for name, found in addresses.items()}
        asked["unchanged"] = [_unchanged(port, addresses["list"][0])]
        for name in asked:
            _loaded(port, name, asked[name], duration=1.0)
        rates = _throughput(port, {name: asked[name] for name in _LOADED})
        figures = {f"{name} /s": statistics.median(found) for name, found in rates.items()}
        for name, floor in _RATIOS.items():
            pairs = zip(rates[name], rates[floor], strict=True)
            figures[f"{name} ratio"] = statistics.median(mine / theirs for mine, theirs in pairs)
        figures |= {f"{name} ms": found for name, found in _latency(port, {n: asked[n] for n in _TIMED}).items()}
        figures["published ms"] = _publish(port)
        figures["filtered shoes"] = statistics.mean(_shoes_told(port, address) for address in addresses["api filtered"])
    figures |= {f"{name} computing ms": found for name, found in _scan(shoes).items()}
    figures["page bytes"] = float(len(page))
    return figures


_LOADED = ("list", "floor list", "list again", "unchanged", "static file")
_RATIOS = {"list": "floor list", "list again": "floor list", "unchanged": "static file"}
_TIMED = ("list", "list again", "all shoes", "shoe", "similar", "api", "api filtered", "floor list")
# Of a larger catalogue more is left by the same filters, up to a page: that is more to tell, not slower telling.
_LONGER_PAGES = ("api filtered", "floor list")


def _lines(shoes: int, found: Mapping[str, float], before: Mapping[str, float] | None) -> list[Line]:
    ratio = found["nearest computing ms"] / found["scan computing ms"]
    is_largest = shoes == SIZES[-1]
    held = {"list": 0.6, "unchanged": 0.8} if is_largest else {}
    lines = [Line(f"floor of the list: SQL without a template, {shoes} shoes", found["floor list /s"], "req/s")]
    for name, words in (("list", "list, every filter new"), ("list again", "list, a filter asked before")):
        target = held.get(name)
        lines.append(
            Line(words, found[f"{name} /s"], "req/s", found[f"{name} ratio"], f">= {target}" if target else "",
                 found[f"{name} ratio"] >= target if target else None)
        )  # fmt: skip
    lines.append(Line(f"static file of {found['page bytes'] / 1000:.0f} kB", found["static file /s"], "req/s"))
    target = held.get("unchanged")
    lines.append(
        Line("list, unchanged since (304)", found["unchanged /s"], "req/s", found["unchanged ratio"],
             f">= {target}" if target else "", found["unchanged ratio"] >= target if target else None)
    )  # fmt: skip
    lines.append(Line("numpy scan for the nearest", found["scan computing ms"], "ms"))
    lines.append(
        Line(f"the {NEAR} nearest, computing", found["nearest computing ms"], "ms", ratio,
             "<= 2" if is_largest else "", ratio <= 2 if is_largest else None)
    )  # fmt: skip
    for name in _TIMED:
        times = None if before is None else found[f"{name} ms"] / before[f"{name} ms"]
        lines.append(
            Line(f"{name}, one at a time", found[f"{name} ms"], "ms", times,
                 "" if times is None or name in _LONGER_PAGES else "<= 2 x 10,000",
                 None if times is None or name in _LONGER_PAGES else times <= 2)
        )  # fmt: skip
    lines.append(Line("api filtered: shoes on its page, mean", found["filtered shoes"], "shoes"))
    published = found["published ms"]
    lines.append(
        Line("first list after a score was published", published, "ms", None,
             "<= 1000" if is_largest else "", published <= 1000 if is_largest else None)
    )  # fmt: skip
    return lines


def _apart(shoes: int) -> dict[str, float]:
    """Measure in a process of its own: a process works on one database."""
    with tempfile.NamedTemporaryFile(suffix=".json") as file:
        command = [sys.executable, "-m", "bench.catalogue", "--into", file.name, str(shoes)]
        subprocess.run(command, cwd=ROOT, env={**os.environ}, check=True)
        found: dict[str, float] = json.loads(Path(file.name).read_text())
        return found


def main() -> None:
    words = sys.argv[1:]
    if words[:1] == ["--into"]:
        Path(words[1]).write_text(json.dumps(measure(int(words[2]))))
        return
    found: dict[int, dict[str, float]] = {}
    for shoes in [int(word) for word in words] or SIZES:
        found[shoes] = _apart(shoes)
        before = found.get(10_000) if shoes > 10_000 else None
        report(f"The catalogue of {shoes:,} shoes in 500 stores", _lines(shoes, found[shoes], before))


if __name__ == "__main__":
    main()
