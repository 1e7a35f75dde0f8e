"""The design against WCAG 2.2: contrast by the formula of the recommendation, size, and what a strict CSP refuses."""

from __future__ import annotations

import gzip
import itertools
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
CSS = ROOT / "core" / "static" / "css"
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
DARK = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", (CSS / "dark.css").read_text()))
TOKENS = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", (CSS / "tokens.css").read_text()))


def luminance(colour):
    # DEF: WCAG 2.2, relative luminance.
    parts = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_formula_gives_the_published_ends():
    # DEF: black on white is 21:1; PAGE (WCAG understanding documents): #767676 on white just passes 4.5:1.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("surface", ["paper", "sheet", "shade", "accent-wash", "alarm-wash"])
@pytest.mark.parametrize("text", ["ink", "ink-soft", "accent", "accent-dark", "alarm"])
def test_text_reads_on_every_surface(text, surface):
    assert contrast(TOKENS[text], TOKENS[surface]) >= 4.5


@pytest.mark.parametrize(("order", "text"), [(1, "ink"), (2, "ink"), (3, "ink"), (4, "on-dark"), (5, "on-dark")])
def test_band_names_read_on_their_band(order, text):
    assert f"--on-band-{order}: var(--{text})" in (CSS / "tokens.css").read_text()
    assert contrast(TOKENS[text], TOKENS[f"band-{order}"]) >= 4.5


@pytest.mark.parametrize("surface", ["paper", "sheet", "shade", "accent-wash", "alarm-wash"])
@pytest.mark.parametrize("text", ["ink", "ink-soft", "accent", "accent-dark", "alarm"])
def test_text_reads_on_every_surface_after_dark(text, surface):
    assert contrast(DARK[text], DARK[surface]) >= 4.5


@pytest.mark.parametrize("order", [1, 2, 3, 4, 5])
def test_band_names_read_on_their_band_after_dark(order):
    assert contrast(DARK[f"on-band-{order}"], TOKENS[f"band-{order}"]) >= 4.5


@pytest.mark.parametrize("surface", ["paper", "sheet", "shade"])
@pytest.mark.parametrize("line", ["line-strong", "accent", "accent-dark", "alarm", "mark"])
def test_edges_marks_and_focus_are_seen_after_dark(line, surface):
    assert contrast(DARK[line], DARK[surface]) >= 3.0


def test_dark_has_every_colour_that_is_not_a_band():
    assert {name for name in TOKENS if not name.startswith("band-")} <= set(DARK)


def test_bands_go_from_light_to_dark():
    ramp = [luminance(TOKENS[f"band-{order}"]) for order in (1, 2, 3, 4, 5)]
    assert ramp == sorted(ramp, reverse=True)
    assert all(light / dark > 1.3 for light, dark in itertools.pairwise(ramp))


@pytest.mark.parametrize("surface", ["paper", "sheet", "shade"])
@pytest.mark.parametrize("line", ["line-strong", "accent", "accent-dark", "alarm"])
def test_edges_of_controls_marks_and_focus_are_seen(line, surface):
    assert contrast(TOKENS[line], TOKENS[surface]) >= 3.0


def test_buttons_read_after_dark():
    for ground in ("accent", "accent-dark", "alarm"):
        assert contrast(DARK["on-dark"], DARK[ground]) >= 4.5


def test_buttons_read():
    for ground in ("accent", "accent-dark", "alarm"):
        assert contrast(TOKENS["on-dark"], TOKENS[ground]) >= 4.5


def test_stylesheets_stay_small():
    # As they travel: the server sends them compressed.
    assert sum(len(gzip.compress(path.read_bytes())) for path in CSS.glob("*.css")) < 12_000


def test_stylesheets_ask_nobody_else():
    for path in CSS.glob("*.css"):
        assert not re.search(r"url\(|@import|https?://", path.read_text()), path.name


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: str(path.relative_to(ROOT)))
def test_template_holds_nothing_that_the_policy_refuses(path):
    source = re.sub(r"{% comment %}.*?{% endcomment %}", "", path.read_text(), flags=re.DOTALL)
    assert not re.search(r"\sstyle\s*=", source), "inline style"
    assert not re.search(r"<style\b", source)
    # JSON-LD is data: it is not run, so the policy has nothing to say about it.
    assert not re.search(r"<script(?![^>]*\bsrc=)(?! type=\"application/ld\+json\">)", source), "inline script"
    assert not re.search(r"\son[a-z]+\s*=\s*[\"']", source), "inline handler"
    assert not re.search(r"(src|href)=\"https?://", source), "third party"


@pytest.mark.parametrize(
    "path",
    [path for path in TEMPLATES if path.parent.name in ("components", "templates")],
    ids=lambda path: path.name,
)
def test_base_or_component_opens_with_its_context(path):
    head = path.read_text()[:200]
    if "jinja" in path.parts:
        assert head.startswith("{#")
        assert "   band   " in path.read_text().split("#}")[0]
        return
    assert "{% comment %}" in head
    assert re.search(r"Context|Blocks|no context", path.read_text().split("{% endcomment %}")[0])
