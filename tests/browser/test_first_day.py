"""The first day of a practice, typed as people would: from an empty production database to an answered follow-up.

The server runs with DATABASE_URL and without DEBUG, as a real one does; nothing is loaded. Only the two weeks between
the fitting and its follow-up are skipped, in the database.
"""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import psycopg
import pytest

from tests.browser.fitting_page import at_rest
from tests.labtests.bench_text import bench_text, curve_rows
from tests.own_practice import OwnPractice, served

PASSWORD = "seven quiet herons"
# Midfoot 5.5 N·m is 60.8, rearfoot 5.2 mm is 68.6: stability 64.4, inside the target of the fitting below.
TORQUE_NM, DEFLECTION_MM = 5.5, 5.2
PEOPLE = {"tess": "technician", "rory": "reviewer", "mae": "manager", "finn": "fitter"}
QUANTITIES = ("force", "torque", "displacement", "angle", "temperature")


@pytest.fixture(scope="module")
def empty(django_db_setup, tmp_path_factory):
    """An empty production database, migrated and nothing more."""
    practice = OwnPractice.open(tmp_path_factory, "first-day")
    practice.environment.update(
        DEBUG="0",
        REQUIRE_SECOND_FACTOR="0",
        SECRET_KEY="only for this test " * 4,
        ALLOWED_HOSTS="127.0.0.1,localhost",
        # No proxy in front that would speak HTTPS.
        SECURE_SSL_REDIRECT="0",
        STATIC_ROOT=str(Path(practice.environment["BENCHLAST_DATA"], "static")),
    )
    practice.environment.pop("PORT", None)
    practice.environment.pop("SITE_URL", None)
    return practice


@pytest.fixture(scope="module")
def site(empty):
    with served(empty, seconds=240) as url:
        yield url


@pytest.fixture
def window(chromium, site):
    """Return a function that opens a browser window of its own; a script error fails the test."""
    contexts, problems = [], []

    def open_one(width=1280):
        context = chromium.new_context(base_url=site, viewport={"width": width, "height": 1000})
        context.set_default_timeout(60_000)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda problem: problems.append(str(problem)))
        return page

    yield open_one
    for context in contexts:
        context.close()
    assert problems == []


def choose_password(page, link):
    page.goto(re.sub(r"^https?://[^/]+", "", link))
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.get_by_label("Password, again").fill(PASSWORD)
    page.get_by_role("button", name="Set the password").click()
    page.get_by_text("Your password is set, and you are signed in.").wait_for()


def next_step(office, title):
    """Open the first steps and follow the link of the next one."""
    office.goto("/office/first-steps/")
    assert office.locator("tr[aria-current=step] th").inner_text() == title
    office.locator("tr[aria-current=step]").get_by_role("link", name=f"Open {title}").click()


def is_next(office, title):
    office.goto("/office/first-steps/")
    assert office.locator("tr[aria-current=step] th").inner_text() == title


def add_store(office):
    next_step(office, "Store")
    office.get_by_label("Name").fill("Quay Street")
    office.get_by_label("Address on the web").fill("quay-street")
    office.get_by_label("Town").fill("Ombrey")
    office.locator("main form button.button").click()
    office.get_by_text("Quay Street was added.").wait_for()


def invite_staff(office, window):
    pages = {}
    for name, role in PEOPLE.items():
        next_step(office, "Staff")
        office.get_by_label("User name").fill(name)
        office.get_by_label("Role").select_option(role)
        if role in ("manager", "fitter"):
            office.get_by_label("Store").select_option(label="Quay Street")
        office.get_by_label("Reason").fill("taken on")
        office.get_by_role("button", name="Create the account").click()
        link = office.locator("main samp", has_text="/welcome/").inner_text()
        pages[name] = window(820 if role == "fitter" else 1280)
        choose_password(pages[name], link)
    return pages


def add_shoe(office):
    next_step(office, "Shoes")
    office.get_by_role("link", name="Add the brand").click()
    office.get_by_label("Name", exact=True).fill("Wheelan")
    office.get_by_role("button", name="Add the brand").click()
    office.get_by_role("link", name="Add a shoe").click()
    office.get_by_label("Brand").select_option(label="Wheelan")
    office.get_by_label("Name", exact=True).fill("Firth")
    office.get_by_label("Version").fill("1")
    office.get_by_label("Mass (g)").fill("270")
    office.get_by_role("button", name="Add the shoe").click()
    office.get_by_role("heading", name="Wheelan Firth 1").wait_for()


def set_up_rig(technician, today):
    technician.goto("/lab/new-rig/")
    technician.get_by_label("Code").fill("rig-1")
    technician.get_by_role("button", name="Set up the rig").click()
    for quantity in QUANTITIES:
        technician.get_by_label("Quantity").select_option(quantity)
        technician.get_by_label("Certificate").first.fill(f"C-{quantity}")
        technician.get_by_label("Calibrated on").fill(str(today - dt.timedelta(days=30)))
        technician.get_by_label("Due on").fill(str(today + dt.timedelta(days=300)))
        technician.get_by_label("Standard uncertainty").fill("0.01")
        technician.get_by_label("Resolution").fill("0.01")
        technician.get_by_role("button", name="Record the calibration").click()
        technician.get_by_text(f"The calibration of {quantity} is on record.").wait_for()


def sign_calibrations(reviewer):
    for quantity in QUANTITIES:
        reviewer.goto("/lab/rigs/rig-1/")
        reviewer.get_by_role("link", name=f"C-{quantity}").first.click()
        reviewer.get_by_role("button", name="Sign the calibration").click()
        reviewer.get_by_text("Second signature").wait_for(state="detached")


def set_up_chamber(technician):
    technician.goto("/lab/chambers/")
    technician.get_by_label("Code").fill("chamber-1")
    technician.get_by_role("button", name="Set up the chamber").click()
    technician.get_by_role("link", name="chamber-1", exact=True).wait_for()


def write_test_file(folder, now):
    repeats = [(TORQUE_NM, DEFLECTION_MM), (TORQUE_NM + 0.02, DEFLECTION_MM), (TORQUE_NM - 0.02, DEFLECTION_MM)]
    performed = (now - dt.timedelta(hours=1)).isoformat(timespec="seconds")
    text = bench_text(
        curve_rows(repeats), shoe="wheelan-firth-1", specimen="WF-01", operator="tess", performed=performed
    )
    path = folder / "firth.csv"
    path.write_text(text)
    return path


def upload(technician, path):
    technician.goto("/lab/uploads/new/")
    technician.get_by_label("Bench file").set_input_files(path)
    technician.get_by_role("button", name="Check the files").click()
    technician.get_by_role("button", name="Store the file").click()
    technician.wait_for_url(re.compile(r"/lab/uploads/\d+/$"))
    return technician.get_by_role("link", name=re.compile(r", test \d+$")).first.get_attribute("href")


def publish(reviewer, test_page):
    reviewer.goto(test_page)
    reviewer.get_by_label("Approve").check()
    reviewer.get_by_role("button", name="Record the decision").click()
    reviewer.goto("/lab/shoes/wheelan-firth-1/")
    reviewer.get_by_label("Reason").fill("first specimen measured")
    reviewer.get_by_role("button", name="Publish these scores").click()
    reviewer.wait_for_load_state()


def receive(manager):
    manager.goto("/wall/book/")
    manager.get_by_label("Shoe or barcode").fill("wheelan firth")
    manager.get_by_label("Size").fill("EU 42")
    manager.get_by_label("Pairs").fill("4")
    manager.get_by_role("button", name="Record", exact=True).click()
    manager.get_by_text("Wheelan Firth 1, EU 42: 4 received, 4 here now.").wait_for()


def touch(page, name, value):
    page.locator("label", has=page.locator(f"[name='{name}'][value='{value}']")).click()


def fit(page):
    """A fitting whose target is 55 to 67: 45, pronation 5, rotation 3, eversion 3, past heel pain 5."""
    page.goto("/fittings/new/")
    page.get_by_label("Name", exact=True).fill("Wren Oddfellow")
    touch(page, "person-consent", "yes")
    touch(page, "intake-use", "running")
    page.get_by_label(re.compile("^Body mass")).fill("70")
    first = page.locator("#section-intake .fit-row", has=page.get_by_label("Settled on")).first
    first.get_by_label("Where").select_option("heel")
    first.get_by_label("Side").select_option("left")
    first.get_by_label("Settled on").fill("2026-06-01")
    touch(page, "stop-signs", "none")
    for foot in ("left", "right"):
        for question in ("pronation", "tibial_rotation", "rearfoot_eversion"):
            touch(page, f"{foot}-{question}", "1")
        page.locator(f"#id_foot-{foot}-length_mm").fill("265")
    page.locator("#id_foot-left-width_mm").focus()
    page.locator("#section-need tfoot", has_text="61").wait_for(state="attached")
    page.locator("article.fit-shoe", has_text="Firth").get_by_role("button", name=re.compile("Try on")).click()
    # On a slow machine an answer that is still under way would take the touch away.
    at_rest(page)
    touch(page, "try-0-comfort", "8")
    page.locator("#fit-places").get_by_label(re.compile("comfort 8")).check()
    page.get_by_role("button", name="Finish the fitting").click()
    page.wait_for_url(re.compile(r"/fittings/\d+/$"))
    return page.locator("a.fit-link").get_attribute("href")


def answer(customer, link):
    customer.goto(re.sub(r"^https?://[^/]+", "", link))
    customer.get_by_role("heading", name="How are your shoes?").wait_for()
    touch(customer, "wearing", "yes")
    touch(customer, "comfort", "8")
    customer.get_by_label(re.compile("^How far have you gone")).fill("20")
    customer.get_by_role("button", name="Send").click()
    customer.get_by_text("Thank you for your answers.").wait_for()


def two_weeks_later(practice):
    with psycopg.connect(practice.url) as connection:
        connection.execute("UPDATE fittings_followup SET due_on = current_date WHERE weeks = 2")


def test_first_day_from_an_empty_database_to_an_answered_follow_up(empty, site, window, tmp_path):
    now = dt.datetime.now(dt.UTC)
    link = empty.manage("make_account")
    office = window()
    choose_password(office, link)
    office.get_by_role("link", name="See the first steps").click()
    office.get_by_text("0 of 9 steps are done.").wait_for()

    add_store(office)
    pages = invite_staff(office, window)
    is_next(office, "Shoes")
    add_shoe(office)
    is_next(office, "Rig and calibrations")
    set_up_rig(pages["tess"], now.date())
    sign_calibrations(pages["rory"])
    is_next(office, "Conditioning chamber")
    set_up_chamber(pages["tess"])
    is_next(office, "First test")
    test_page = upload(pages["tess"], write_test_file(tmp_path, now))
    is_next(office, "First publication")
    publish(pages["rory"], test_page)
    is_next(office, "Stock")
    receive(pages["mae"])
    is_next(office, "First fitting")
    card = fit(pages["finn"])
    assert card.startswith(site.replace("127.0.0.1", "localhost") + "/f/")
    office.goto("/office/first-steps/")
    office.get_by_text("Everything is done: the practice is open.").wait_for()

    two_weeks_later(empty)
    answer(window(390), card)
    assert "The audit trail is intact" in empty.manage("verify_audit")
