"""A day's work with the program of an earlier release, on a database that today's migrations have changed.

Run by that program in a process of its own (`test_upgrade.py`): `core`, `fittings` and the others that are imported
here are those of the release. It prints as JSON which status each request was answered with, and what is stored then.

Arguments: the address of a published shoe, a bench file for it, and the key of a new fitting.
"""

from __future__ import annotations

import json
import re
import sys
from importlib import import_module
from pathlib import Path

import django

django.setup()

from django.core.files.uploadedfile import SimpleUploadedFile  # noqa: E402  needs the settings
from django.test import Client  # noqa: E402

from catalogue.models import Brand, ScoreCard, Shoe, StockItem  # noqa: E402
from catalogue.services import shoe_create  # noqa: E402
from core.gate import row_scope  # noqa: E402
from core.models import User  # noqa: E402
from fittings.models import Choice, Customer, Fitting, FollowUp, TryOn  # noqa: E402
from labtests.models import BenchTest, Calibration  # noqa: E402

# It has moved since.
links = import_module("fittings.services.links")
SHOE, BENCH_FILE, KEY = sys.argv[1:]
SPECIMEN = "of-the-earlier-program"
PAGE = "8a7b5f0e-52c0-4f7e-9a55-6f0d3c7f2b11"
PERSON = {"person-name": "Cleo Example", "person-email": "cleo@example.org", "person-consent": "yes"}
SECTIONS = {
    "person": PERSON,
    "intake": {"intake-use": "running", "intake-body_mass_kg": "64", "intake-distance_km_week": "20"},
    "feet": {"foot-left-length_mm": "258", "foot-right-length_mm": "260"},
}
SEEN = {
    "stop-signs": ["none"],
    "left-pronation": "2",
    "left-fpi6": "6",
    "right-pronation": "1",
    "history-0-region": "heel",
    "history-0-side": "left",
    "history-0-state": "past",
    "history-0-settled_on": "2025-01-31",
}
READ = {
    None: [
        *("/", "/stores/", "/stores/store-a/", "/how-we-measure/", "/sitemap.xml", "/healthz"),
        *(f"/shoes/{SHOE}/", f"/shoes/{SHOE}/similar/", f"/shoes/{SHOE}/picture.png", f"/compare/?shoe={SHOE}"),
        *("/api/catalogue/shoes/", f"/api/catalogue/shoes/{SHOE}/", "/api/catalogue/bands/", "/api/catalogue/stores/"),
    ],
    "technician": [
        *("/lab/", "/lab/bench/", "/lab/conditioning/", "/lab/uploads/", "/lab/tests/", "/lab/tests/1/"),
        *("/lab/shoes/", f"/lab/shoes/{SHOE}/", "/lab/rigs/", "/lab/rigs/rig-1/", "/lab/checks/", "/api/lab/tests/"),
    ],
    "reviewer": ["/lab/models/", "/lab/audit/", "/lab/tests/1/by-draws/", "/api/lab/audit/"],
    "fitter-a": [
        *("/fittings/", "/fittings/customers/", "/fittings/follow-ups/", "/api/fittings/", "/api/follow-ups/"),
    ],
    "manager-a": ["/wall/stock/store-a/", "/wall/gaps/store-a/", "/wall/cards/store-a/", "/staff/"],
    "office": ["/office/accounts/", "/office/stores/", "/outcomes/", "/account/"],
}


def visitor() -> Client:
    return Client(raise_request_exception=False, headers={"host": "localhost"})


class Walk:
    """Requests as somebody, with the status of each."""

    def __init__(self) -> None:
        self.answers: dict[str, int] = {}
        self.clients: dict[str | None, Client] = {}

    def ask(self, who, method, url, *data, **more):
        client = self.clients.get(who) or self.clients.setdefault(who, visitor())
        if who is not None and "_auth_user_id" not in client.session:
            client.force_login(User.objects.get(username=who))
        answer = getattr(client, method)(url, *data, **more)
        self.answers[f"{who or 'visitor'}: {method} {url}"] = answer.status_code
        return answer

    def get(self, who, url):
        return self.ask(who, "get", url)

    def post(self, who, url, data, **more):
        return self.ask(who, "post", url, data, **more)


def newcomer_signs_in(walk: Walk) -> None:
    given = {"username": "newcomer", "first_name": "Nova", "role": "technician", "store": "", "reason": "taken on"}
    shown = walk.post("office", "/office/accounts/new/", given).content.decode()
    password = re.search(r"<samp>([a-z2-9]{4}(?:-[a-z2-9]{4}){3})</samp>", shown).group(1)
    client = walk.clients["newcomer"] = visitor()
    for words in ("not the password", password):
        answer = client.post("/sign-in/", {"username": "newcomer", "password": words})
        walk.answers[f"newcomer: signs in with {'the' if words == password else 'a wrong'} password"] = (
            answer.status_code
        )
    own = "a long password of my own"
    change = {"current_password": password, "new_password": own, "new_password_again": own}
    walk.post("newcomer", "/account/password/", change)
    walk.post("newcomer", "/account/tokens/new/", {"label": "rig", "days": "90", "current_password": own})
    walk.get("newcomer", "/lab/")


def fitting_is_made(walk: Walk) -> Fitting:
    draft = f"/fittings/drafts/{KEY}/"
    for name, content in SECTIONS.items():
        walk.post("fitter-a", f"{draft}sections/{name}/", {"page": PAGE} | content, headers={"hx-request": "true"})
    walk.get("fitter-a", draft)
    all_of_it = {name: value for section in SECTIONS.values() for name, value in section.items()}
    finished = walk.post("fitter-a", draft, {"do": "finish", "page": PAGE, "store": "store-a"} | all_of_it | SEEN)
    fitting = finished.headers.get("Location", "/fittings/0/")
    walk.get("fitter-a", fitting)
    chosen = {"slug": SHOE, "size": "EU 42.5", "comfort": "8"}
    walk.post("fitter-a", f"{fitting}try-on/", {f"try-{name}": value for name, value in chosen.items()})
    chosen["reason"] = "comfort"
    walk.post("fitter-a", f"{fitting}choice/", {f"choice-{name}": value for name, value in chosen.items()})
    walk.get("fitter-a", f"{fitting}card/")
    return Fitting.objects.get(pk=int(fitting.split("/")[2]))


def customers_answer(walk: Walk, fitting: Fitting) -> None:
    walk.get(None, f"/f/{links.token_for(fitting)}/")
    walk.post(None, f"/f/{links.stop_token_for(fitting.customer)}/unsubscribe/", {})
    earlier = Fitting.objects.exclude(pk=fitting.pk).get(customer__isnull=False)
    due = earlier.follow_ups.filter(answered_at=None).order_by("-due_on").first()
    answers = {"wearing": "yes", "comfort": "8", "distance_km_week": "20", "pain-0-region": "heel"}
    answers |= {"pain-0-side": "left", "pain-0-score": "1", "follow_up": due.pk, "days_off": "0"}
    walk.post(None, f"/f/{links.token_for(earlier)}/answer/", answers)
    walk.get("fitter-a", f"/fittings/customers/{earlier.customer_id}/")
    walk.get("fitter-a", f"/fittings/follow-ups/{due.pk}/")


def bench_test_is_published(walk: Walk) -> None:
    file = SimpleUploadedFile("bench.csv", Path(BENCH_FILE).read_bytes())
    preview = walk.post("technician", "/lab/uploads/new/", {"file": file}).headers.get("Location", "/lab/uploads/0/")
    walk.get("technician", preview)
    walk.get("technician", walk.post("technician", preview, {}).headers.get("Location", "/lab/uploads/0/"))
    test = BenchTest.objects.get(specimen__code=SPECIMEN)
    walk.get("reviewer", f"/lab/tests/{test.pk}/")
    walk.post("reviewer", f"/lab/tests/{test.pk}/review/", {"decision": "approve", "reason": "sound"})
    walk.post("reviewer", f"/lab/shoes/{SHOE}/publish/", {"reason": "one more specimen"})
    calibration = {"quantity": "force", "certificate": "C-9", "calibrated_on": "2026-02-01", "due_on": "2027-02-01"}
    calibration |= {"standard_uncertainty": "0.5", "resolution": "0.1"}
    walk.post("technician", "/lab/rigs/rig-1/calibrations/", calibration)


def stock_is_counted(walk: Walk) -> None:
    shoe_create(actor=None, slug="fenrest-1", brand=Brand.objects.get(), name="Fenrest")
    shoe = Shoe.objects.get(slug=SHOE).pk
    walk.post(
        "manager-a",
        "/wall/stock/store-a/",
        {f"seen-{shoe}": "42.5:2,44.0:", f"c-{shoe}-42.5": "2", f"c-{shoe}-44.0": "7"},
    )
    walk.post("manager-a", "/wall/cards/store-a/", {"which": "failing", "paper": "a4", "cards_per_sheet": "4"})
    walk.post("office", "/office/stores/new/", {"name": "Store C", "slug": "store-c"})
    walk.post("office", "/office/stores/store-a/edit/", {"name": "Store A", "town": "Fenton"})


def stored(fitting: Fitting) -> dict[str, object]:
    """What the day has left in the tables."""
    return {
        "customer": fitting.customer.name,
        "tried": TryOn.objects.filter(fitting=fitting).count(),
        "chosen": Choice.objects.filter(fitting=fitting).count(),
        "mail stopped": Customer.objects.get(pk=fitting.customer_id).mail_stopped_at is not None,
        "answered": FollowUp.objects.filter(answered_at__isnull=False).exclude(fitting=fitting).count(),
        "test": BenchTest.objects.get(specimen__code=SPECIMEN).state,
        "card": ScoreCard.objects.get(shoe__slug=SHOE, is_current=True).specimens,
        "calibrations": Calibration.objects.filter(certificate="C-9").count(),
        "stock": StockItem.objects.get(shoe__slug=SHOE, size_eu=44).quantity,
        "shoe": Shoe.objects.filter(slug="fenrest-1").count(),
    }


def main() -> None:
    walk = Walk()
    with row_scope.everything():
        for who, pages in READ.items():
            for url in pages:
                walk.get(who, url)
        newcomer_signs_in(walk)
        fitting = fitting_is_made(walk)
        customers_answer(walk, fitting)
        bench_test_is_published(walk)
        stock_is_counted(walk)
        sys.stdout.write(json.dumps({"answers": walk.answers, "stored": stored(fitting)}) + "\n")


if __name__ == "__main__":
    main()
