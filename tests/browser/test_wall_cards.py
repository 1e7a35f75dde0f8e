"""Wall cards as a printer gets them: paper, number of sheets, nothing cut off, nobody else asked."""

from __future__ import annotations

import re

import pytest

MM = 72 / 25.4
PAPERS = {"a4": (210 * MM, 297 * MM), "letter": (8.5 * 72, 11 * 72)}


def pages_of(pdf):
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


def sizes_of(pdf):
    return [tuple(map(float, box.split())) for box in re.findall(rb"/MediaBox\s*\[([^\]]*)\]", pdf)]


def print_cards(page, paper, per_sheet):
    page.goto("/wall/cards/")
    form = page.locator("form", has=page.get_by_role("button", name="Print the ticked shoes"))
    boxes = form.get_by_role("checkbox").all()
    for box in boxes:
        box.check()
    form.get_by_label("Paper").select_option(paper)
    form.get_by_label("Cards on a sheet").select_option(str(per_sheet))
    form.get_by_role("button", name="Print the ticked shoes").click()
    page.wait_for_url(re.compile(r"/wall/cards/[\w-]+/\d+/$"))
    return len(boxes)


CUT_OFF = """[...document.querySelectorAll('.wall-card, .wall-card__scores')]
    .filter(card => card.scrollHeight > card.clientHeight + 1 || card.scrollWidth > card.clientWidth + 1).length"""


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("per_sheet", [1, 2, 4, 8])
def test_sheets_have_the_size_of_the_paper_and_nothing_more(signed_in, paper, per_sheet):
    page = signed_in("manager")
    cards = print_cards(page, paper, per_sheet)
    assert cards >= 5
    pdf = page.pdf(prefer_css_page_size=True)
    assert pages_of(pdf) == -(-cards // per_sheet)
    for _, _, width, height in sizes_of(pdf):
        assert (width, height) == pytest.approx(PAPERS[paper], abs=1.0)
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 733, "height": 1060})
    assert page.evaluate(CUT_OFF) == 0
    assert not page.get_by_role("banner").is_visible()


def test_code_is_drawn_on_the_page_itself(signed_in, practice):
    page = signed_in("manager")
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    print_cards(page, "a4", 8)
    assert page.locator(".wall-card svg.wall-card__code").count() >= 5
    assert [url for url in asked if not url.startswith(practice.url)] == []
