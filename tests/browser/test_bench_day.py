"""The technician's day in a browser: a specimen in and out, several files at once with and without the script."""

from __future__ import annotations

import re

LOOK = re.compile(r"/lab/uploads/look/")


def test_specimen_goes_in_and_comes_out(signed_in):
    page = signed_in("technician", width=820)
    page.goto("/lab/bench/")
    page.get_by_label("Specimen", exact=True).fill("DAY-1")
    page.get_by_text("New specimen, another time, note").click()
    page.get_by_label("Shoe").fill("Oddlemere Inkletop 1")
    page.get_by_label("Size EU").fill("42.5")
    page.get_by_label("Side").select_option("left")
    page.get_by_label("Put in at").fill("2026-03-28T09:00")
    page.get_by_role("button", name="Put the specimen in").click()
    assert page.get_by_text("DAY-1 has been in chamber").is_visible()
    page.get_by_role("button", name="Take out DAY-1").click()
    assert page.get_by_text("DAY-1 was taken out of chamber").is_visible()


def choose(page, samples):
    page.goto("/lab/uploads/new/")
    page.get_by_label("Bench files").set_input_files([samples / "inch_pound_curves.csv", samples / "malformed.csv"])
    page.get_by_role("button", name="Check the files").click()
    page.wait_for_url(LOOK)
    assert page.get_by_text("Nothing is stored yet").is_visible()
    assert page.locator("svg.lab-curve polyline").count() == 12
    assert page.get_by_text("the line “# heel_clamp").is_visible()


def test_several_files_are_sent_with_their_progress(signed_in, practice):
    page = signed_in("technician", width=390)
    choose(page, practice.samples)
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    page.get_by_label("Store this file malformed.csv").uncheck()
    page.get_by_role("button", name="Discard without storing").click()
    assert page.get_by_text("2 files were not stored").is_visible()


def test_several_files_are_sent_without_any_script(signed_in, practice):
    page = signed_in("technician2", java_script_enabled=False)
    choose(page, practice.samples)


def test_files_are_dropped_on_the_form(signed_in):
    page = signed_in("technician")
    page.goto("/lab/uploads/new/")
    dropped = page.evaluate_handle(
        """() => {
          const carried = new DataTransfer();
          carried.items.add(new File(["x"], "one.csv", { type: "text/csv" }));
          carried.items.add(new File(["y"], "two.csv", { type: "text/csv" }));
          return carried;
        }"""
    )
    page.dispatch_event("form[data-upload]", "drop", {"dataTransfer": dropped})
    assert page.get_by_text("one.csv (1 kB), two.csv (1 kB)").is_visible()
    page.get_by_role("button", name="Check the files").click()
    page.wait_for_url(LOOK)
    assert page.get_by_role("heading", name="2 files").is_visible()
