"""Fifty stores' fitters saving sections at once through the real server, beside one fitter alone.

Run with ``python -m bench.load``; ``--seconds 30`` is a quick look. Each fitter opens an unfinished fitting and saves
one section after the other, `--pause` seconds apart: five is three times as quick as a fitting of seven sections in
under three minutes; with none the server is kept full and the times tell how long the queue is. In ten stores a
colleague saves the same section of the same fitting from a page of their own. At the end every section must hold what
was last acknowledged, and as many versions as were accepted.
"""

from __future__ import annotations

import argparse
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

from bench.measure import ROOT, Line, open_practice, percentile, report, request_log

STORES, SHARED, PORT = 50, 10, 8791
ALONE_SECONDS = 30.0
TOKEN = "t" * 32
SETTLED, HELD, REFUSED, BROKEN = 200, 202, 409, 0


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
        elif status == REFUSED:
            # Look at what is there now, as the page's button does, and write over it the next time.
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


@dataclass(frozen=True)
class Shift:
    """How long is worked, and how long between two savings."""

    until: float
    pause: float


def work(fitter: Fitter, number: int, shift: Shift, *, begins: bool, only: str | None = None) -> None:
    """Save sections until the time is over; a colleague saves one of them over and over."""
    try:
        _work(fitter, number, shift, begins=begins, only=only)
    except (OSError, http.client.HTTPException, TypeError) as problem:
        # A line that broke, or an answer that names no version: counted, and reported at the end.
        fitter.answers[BROKEN] += 1
        print(f"{fitter.store}: {type(problem).__name__}: {problem}", file=sys.stderr)


def _work(fitter: Fitter, number: int, shift: Shift, *, begins: bool, only: str | None) -> None:
    line = http.client.HTTPConnection("127.0.0.1", PORT, timeout=60)
    time.sleep(number / STORES * shift.pause)
    if begins:
        fitter.save(line, "person", person(number))
    turn = number
    while time.monotonic() < shift.until:
        for name, written in sections(turn):
            if time.monotonic() < shift.until and (only is None or name == only):
                fitter.save(line, name, written)
                time.sleep(shift.pause)
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
    session[BACKEND_SESSION_KEY] = "core.accounts.authentication.PracticeBackend"
    session[HASH_SESSION_KEY] = user.get_session_auth_hash()
    session.save()
    return f"{settings.SESSION_COOKIE_NAME}={session.session_key}; {settings.CSRF_COOKIE_NAME}={TOKEN}"


def fitters(*, each: int) -> list[list[Fitter]]:
    """Make the stores, each with so many fitters who work on one fitting."""
    from core.gate.access import Role
    from core.models import Membership, Store, User

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
    with request_log(environment) as log:
        server = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, stderr=log)
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
    from core.gate import row_scope
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


def work_at_once(stores: list[list[Fitter]], shift: Shift) -> None:
    threads = []
    for number, (first, second) in enumerate(stores):
        threads.append(threading.Thread(target=work, args=(first, number, shift), kwargs={"begins": True}))
        if number < SHARED:
            kwargs = {"begins": False, "only": "intake"}
            threads.append(threading.Thread(target=work, args=(second, number + 1, shift), kwargs=kwargs))
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=300.0, help="of all stores at once; one alone before, 30 s")
    parser.add_argument("--pause", type=float, default=5.0, help="seconds between two savings of a fitter")
    options = parser.parse_args()
    environment = open_practice("load")
    with serving(environment):
        alone = fitters(each=1)[0][0]
        # Alone nobody is in the way: a shorter pause gives more times and changes none.
        work(alone, 0, Shift(time.monotonic() + min(options.seconds, ALONE_SECONDS), 0.2), begins=True)
        stores = fitters(each=2)
        work_at_once(stores, Shift(time.monotonic() + options.seconds, options.pause))
    everybody = [member for members in stores for member in members]
    answers = sum((member.answers for member in [alone, *everybody]), Counter())
    times = [value for member in everybody for value in member.seconds]
    wrong = faults([[alone], *stores])
    unexpected = {status: n for status, n in answers.items() if status not in (SETTLED, HELD, REFUSED)}
    p95, p95_alone = percentile(times, 0.95) * 1000, percentile(alone.seconds, 0.95) * 1000
    report(
        f"Sections saved by {STORES} stores at once for {options.seconds:.0f} s, each fitter every "
        f"{options.pause:g} s: {len(times)} savings, {len(times) / options.seconds:.1f} a second, "
        f"answers {dict(answers)}",
        [
            Line("one fitter alone, median", percentile(alone.seconds, 0.5) * 1000, "ms"),
            Line("one fitter alone, p95", p95_alone, "ms"),
            Line("fifty stores at once, median", percentile(times, 0.5) * 1000, "ms"),
            Line("fifty stores at once, p95", p95, "ms", p95 / p95_alone),
            Line("lost updates", len(wrong), "", target="0", met=not wrong),
            Line(
                "answers other than saved, held, or refused for a colleague's change",
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
