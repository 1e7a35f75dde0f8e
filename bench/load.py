"""Fifty stores' fitters saving sections at once through the real server, beside one fitter alone.

Run: python -m bench.load [seconds, 300]. Each fitter opens an unfinished fitting and saves one section after the
other, a second apart, as people do. In ten stores a colleague saves the same section of the same fitting from a page
of their own. At the end every section must hold what was last acknowledged, and as many versions as were accepted.
"""

from __future__ import annotations

import http.client
import re
import subprocess
import sys
import threading
import time
import uuid
from collections import Counter
from contextlib import contextmanager
from dataclasses import dataclass, field
from urllib.parse import urlencode

from bench.measure import ROOT, Line, open_practice, percentile, report

STORES, SHARED, PAUSE_SECONDS, PORT = 50, 10, 1.0, 8791
TOKEN = "t" * 32
SETTLED, TOLD = 200, 409


@dataclass
class Fitter:
    """One fitter's browser: the page it has open, what it saved, and how long each saving took."""

    store: str
    cookie: str
    key: uuid.UUID
    page: uuid.UUID = field(default_factory=uuid.uuid4)
    versions: dict[str, int] = field(default_factory=dict)
    acknowledged: dict[str, dict[str, str]] = field(default_factory=dict)
    accepted: Counter[str] = field(default_factory=Counter)
    answers: Counter[int] = field(default_factory=Counter)
    seconds: list[float] = field(default_factory=list)
    edits: int = 0

    def save(self, line: http.client.HTTPConnection, name: str, written: dict[str, str]) -> int:
        self.edits += 1
        sent = {"page": str(self.page), "edit": self.edits, "store": self.store, **written}
        sent[f"{name}-version"] = self.versions.get(name, 0)
        begin = time.perf_counter()
        status, body = self._ask(line, "POST", f"/fittings/drafts/{self.key}/sections/{name}/", urlencode(sent))
        self.seconds.append(time.perf_counter() - begin)
        self.answers[status] += 1
        if status == SETTLED:
            self.versions[name] = int(re.search(rf'name="{name}-version" value="(\d+)"', body)[1])
            self.acknowledged[name] = written
            self.accepted[name] += 1
        elif status == TOLD:
            # Look at what stands there now, as the page's button does, and write over it the next time.
            _, body = self._ask(line, "GET", f"/fittings/drafts/{self.key}/sections/{name}/")
            self.versions[name] = int(re.search(rf'name="{name}-version" value="(\d+)"', body)[1])
        return status

    def _ask(self, line: http.client.HTTPConnection, method: str, path: str, body: str = "") -> tuple[int, str]:
        headers = {"Cookie": self.cookie, "X-CSRFToken": TOKEN, "HX-Request": "true"}
        if body:
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        line.request(method, path, body, headers)
        answer = line.getresponse()
        return answer.status, answer.read().decode()


def sections(turn: int) -> list[tuple[str, dict[str, str]]]:
    """What a fitter writes, section by section; the numbers tell one turn from another."""
    return [
        ("intake", {"intake-use": "running", "intake-body_mass_kg": f"{50 + turn % 90}", "intake-pain_now": "0"}),
        ("observation", {"left-pronation": f"{turn % 4}", "right-pronation": "1", "left-fpi6": f"{turn % 12}"}),
        ("feet", {"foot-left-length_mm": f"{230 + turn % 60}", "foot-right-length_mm": "262"}),
    ]


def person(number: int) -> dict[str, str]:
    return {
        "person-name": f"Person {number}",
        "person-email": f"p{number}@example.invalid",
        "person-consent": "yes",
    }


def work(fitter: Fitter, number: int, until: float, *, begins: bool, only: str | None = None) -> None:
    """Save sections until the time is over; a colleague saves one of them over and over."""
    line = http.client.HTTPConnection("127.0.0.1", PORT, timeout=60)
    time.sleep(number / STORES * PAUSE_SECONDS)
    if begins:
        fitter.save(line, "person", person(number))
    turn = number
    while time.monotonic() < until:
        for name, written in sections(turn):
            if only is None or name == only:
                fitter.save(line, name, written)
                time.sleep(PAUSE_SECONDS)
        turn += 1


def sign_in(user: object) -> str:
    """Return the cookies of somebody who signed in; by the session alone, a password takes its time on purpose."""
    from importlib import import_module

    from django.conf import settings
    from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY

    session = import_module(settings.SESSION_ENGINE).SessionStore()
    now = int(time.time())
    session.update({"began_at": now, "seen_at": now})
    session[SESSION_KEY] = str(user.pk)
    session[BACKEND_SESSION_KEY] = "core.authentication.PracticeBackend"
    session[HASH_SESSION_KEY] = user.get_session_auth_hash()
    session.save()
    return f"{settings.SESSION_COOKIE_NAME}={session.session_key}; {settings.CSRF_COOKIE_NAME}={TOKEN}"


def fitters(*, each: int) -> list[list[Fitter]]:
    """Make the stores, each with so many fitters who work on one fitting."""
    from core.models import Membership, Store, User
    from core.permissions import Role

    found = []
    for number in range(STORES):
        store, _ = Store.objects.get_or_create(slug=f"store-{number}", defaults={"name": f"Store {number}"})
        key, members = uuid.uuid4(), []
        for place in range(each):
            user, is_new = User.objects.get_or_create(username=f"fitter-{number}-{place}")
            if is_new:
                Membership.objects.create(user=user, role=Role.FITTER, store=store)
            members.append(Fitter(store.slug, sign_in(user), key))
        found.append(members)
    return found


@contextmanager
def serving(environment: dict[str, str]):
    command = [sys.executable, "manage.py", "serve", "--port", str(PORT), "--workers", "2"]
    server = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL)
    try:
        for _ in range(600):
            time.sleep(0.5)
            try:
                line = http.client.HTTPConnection("127.0.0.1", PORT, timeout=5)
                line.request("GET", "/healthz")
                if line.getresponse().status == SETTLED:
                    break
            except OSError:
                continue
        yield
    finally:
        server.terminate()
        server.wait()


def faults(stores: list[list[Fitter]]) -> list[str]:
    """Compare what is kept with what was acknowledged."""
    from core import row_scope
    from fittings.models import DraftSection

    found = []
    with row_scope.everything():
        kept = {(row.draft_id, row.name): row for row in DraftSection.objects.all()}
    for members in stores:
        names = {name for member in members for name in member.accepted}
        for name in names - {"person"}:
            row = kept[members[0].key, name]
            accepted = sum(member.accepted[name] for member in members)
            if row.version != accepted:
                found.append(f"{members[0].store} {name}: {accepted} accepted, version {row.version}")
            if row.content not in [member.acknowledged.get(name) for member in members]:
                found.append(f"{members[0].store} {name}: what is kept was acknowledged to nobody")
    return found


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 300.0
    environment = open_practice("load")
    with serving(environment):
        alone = fitters(each=1)[0][0]
        work(alone, 0, time.monotonic() + min(seconds, 30), begins=True)
        stores = fitters(each=2)
        until = time.monotonic() + seconds
        threads = []
        for number, (first, second) in enumerate(stores):
            threads.append(threading.Thread(target=work, args=(first, number, until), kwargs={"begins": True}))
            if number < SHARED:
                kwargs = {"begins": False, "only": "intake"}
                threads.append(threading.Thread(target=work, args=(second, number + 1, until), kwargs=kwargs))
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    everybody = [member for members in stores for member in members]
    answers = sum((member.answers for member in everybody), Counter())
    times = [value for member in everybody for value in member.seconds]
    wrong, unexpected = faults(stores), {status: n for status, n in answers.items() if status not in (200, 202, 409)}
    p95, p95_alone = percentile(times, 0.95) * 1000, percentile(alone.seconds, 0.95) * 1000
    report(
        f"Sections saved by {STORES} stores at once for {seconds:.0f} s: {len(times)} savings, answers {dict(answers)}",
        [
            Line("one fitter alone, p95", p95_alone, "ms"),
            Line("fifty stores at once, p95", p95, "ms", p95 / p95_alone),
            Line("lost updates", len(wrong), "", target="0", met=not wrong),
            Line(
                "answers other than kept, held, or told of a colleague",
                sum(unexpected.values()),
                "",
                target="0",
                met=not unexpected,
            ),
        ],
    )
    for words in wrong:
        print(words)
    sys.exit(bool(wrong or unexpected))


if __name__ == "__main__":
    main()
