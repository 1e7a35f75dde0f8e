from __future__ import annotations

import re

import pytest

from catalogue import drawings, selectors
from catalogue.domain.filters import ShoeFilter
from catalogue.drawings import scale, score_map, shapes
from catalogue.selectors.public.scales import band_list
from tests.shared import shared


@shared
def three(make_shoe, make_store, put_in_stock, scores_for):
    # Made by the weights of the standard model, so that lines of equal stability can be drawn.
    for slug, midfoot, rearfoot, cushioning in (
        ("soft", 40.0, 50.0, 80.0),
        ("twin", 40.1, 50.0, 60.0),
        ("hard", 90, 85, 50),
    ):
        stability = 0.54 * midfoot + 0.46 * rearfoot
        scores = scores_for(stability, midfoot=float(midfoot), rearfoot=float(rearfoot), cushioning=float(cushioning))
        make_shoe(slug, scores=scores)


def found(**wanted):
    return selectors.select_shoes(ShoeFilter(view="map", **wanted), revision=selectors.revision())


def drawn(selection, room=score_map.WIDE):
    return score_map.draw(selection, selection.page(limit=24), band_list(), room)


@pytest.mark.usefixtures("three")
def test_shoe_is_placed_by_midfoot_and_rearfoot_and_grows_with_cushioning():
    soft, twin, hard = drawn(found()).marks
    assert [mark.url for mark in (soft, twin, hard)] == ["/shoes/soft/", "/shoes/twin/", "/shoes/hard/"]
    assert float(soft.x) < float(hard.x)
    assert float(soft.y) > float(hard.y), "up is firmer"
    assert float(soft.radius) > float(twin.radius) > float(hard.radius)
    assert "Corvane soft 1: midfoot 40.0 ± 2.4, rearfoot 50.0 ± 2.8, cushioning 80.0; Very little hold" in soft.title


@pytest.mark.usefixtures("three")
def test_mark_that_would_overlap_moves_aside_tied_to_its_place():
    soft, twin, hard = drawn(found()).marks
    assert (soft.leader, hard.leader) == ("", "")
    assert twin.leader.endswith(f"L{twin.x} {twin.y}")


@pytest.mark.usefixtures("three")
def test_whiskers_show_both_uncertainties_around_the_place():
    assert drawn(found()).marks[0].whiskers.count("M") == 2


@pytest.mark.usefixtures("three")
def test_limits_of_the_bands_run_across():
    assert [line.label for line in drawn(found()).lines] == ["50", "60", "70", "80"]


@pytest.mark.usefixtures("three")
@pytest.mark.parametrize("room", [score_map.WIDE, score_map.TALL])
def test_number_of_a_limit_is_not_written_over_the_name_of_a_corner(room):
    for line in drawn(found(), room).lines:
        across = float(line.x) - room.left
        near_a_side = min(across, room.width - across) < score_map.CORNER_PX[0]
        assert not (near_a_side and float(line.y) < room.above + score_map.CORNER_PX[1])


def test_shoes_of_two_models_have_no_common_lines(make_shoe, scores_for):
    for number, weight in enumerate((0.54, 0.54, 0.54, 0.7)):
        midfoot, rearfoot = 50.0 + 7 * number, 60.0 + number**2
        scores = scores_for(weight * midfoot + (1 - weight) * rearfoot, midfoot=midfoot, rearfoot=rearfoot)
        make_shoe(f"shoe-{number}", scores=scores)
    assert drawn(found()).lines == ()


def test_unknown_uncertainty_draws_no_whisker(make_shoe, scores_for):
    make_shoe(scores=scores_for(55.0, midfoot_u=None, rearfoot_u=None))
    (mark,) = drawn(found()).marks
    assert mark.whiskers == ""
    assert "±" not in mark.title


@pytest.mark.usefixtures("three")
def test_filter_leaves_the_rest_faint_in_their_places():
    everything, filtered = drawn(found()), drawn(found(bands=(1,)))
    assert [mark.url for mark in filtered.rest] == ["/shoes/hard/"]
    assert [mark.x for mark in filtered.marks] == [mark.x for mark in everything.marks[:2]]


@pytest.mark.usefixtures("three")
@pytest.mark.parametrize("room", [score_map.WIDE, score_map.TALL])
def test_everything_is_inside_the_drawing(room):
    drawing = drawn(found(), room)
    for mark in drawing.marks:
        assert 0 < float(mark.x) < float(drawing.width)
        assert 0 < float(mark.y) < float(drawing.height)
    assert float(score_map.TALL.width + score_map.TALL.left + score_map.TALL.edge) <= 366, "a phone of 390 px holds it"


@pytest.mark.usefixtures("three")
def test_page_keeps_the_drawing_in_its_address(client):
    page = client.get("/?view=map&band=1").content.decode()
    assert page.count('<a class="mark mark--1" href="/shoes/soft/">') == 2
    assert '<input type="hidden" name="view" value="map" form="filters">' in page
    assert re.search(r'<a href="/\?band=1" hx-get="/\?band=1"[^>]*>Along the scale</a>', page)
    assert re.search(r'<a href="/\?band=1&amp;view=map" aria-current="true"[^>]*>Midfoot against rearfoot</a>', page)
    part = client.get("/?view=map&band=1", headers={"HX-Request": "true"})
    assert part.headers["HX-Push-Url"] == "/?band=1&view=map"
    response = client.get("/?view=globe")
    assert response.status_code == 400
    said = "“Drawing” has no choice “globe”. Choose one of: Along the scale; Midfoot against rearfoot."
    assert said in response.content.decode()


@pytest.fixture
def few_marks(monkeypatch):
    """Count from the third shoe on, as is done from the 501st."""
    for module in (scale, score_map, drawings):
        monkeypatch.setattr(module, "COUNTED_FROM", 2)
    assert shapes.COUNTED_FROM == 500


@pytest.mark.usefixtures("three", "few_marks")
def test_many_shoes_are_counted_and_those_listed_below_are_marked():
    selection = found(q="soft")
    drawing = drawn(selection)
    assert [mark.url for mark in drawing.marks] == ["/shoes/soft/"]
    assert drawing.rest == ()
    assert sum(cells.path.count("M") for cells in drawing.cells_of_all) == 2, "twins share a square"
    assert sum(cells.path.count("M") for cells in drawing.cells) == 1


@pytest.mark.usefixtures("three", "few_marks")
def test_bars_count_the_shoes_along_the_scale(client):
    page = client.get("/?band=1").content.decode()
    assert page.count('class="bars__all"') == 2
    assert 'class="bars--1"' in page
    assert 'class="bars--5"' not in page
    assert page.count('<a class="mark mark--1" href="/shoes/soft/">') == 2
    assert "bars count them, pale for all and dark for those that the filters leave" in page
    assert "There are too many shoes for a mark each" in client.get("/?view=map").content.decode()


@pytest.mark.usefixtures("three", "few_marks")
def test_bars_are_as_high_as_there_are_shoes():
    selection = found()
    density = scale.density_of(selection, band_list())
    assert (sum(density.every), sum(density.left), max(density.every)) == (3, 3, 2)
    drawing = scale.draw_bars(
        selection.points(), scale.WIDE, density, scale.ground_of_bars(band_list(), scale.WIDE, density)
    )
    heights = [float(height) for height in re.findall(r"v([\d.]+)h-", drawing.ground.bars_of_all)]
    assert sorted(heights) == [55.0, 110.0]
    assert [bars.order for bars in drawing.bars] == [1, 5]


def test_every_shoe_is_reached_through_the_list_however_many(client, make_shoe, few_marks):
    for number in range(30):
        make_shoe(f"shoe-{number:02}", stability=40.0 + number)
    seen = set()
    for page in (1, 2):
        seen |= set(
            re.findall(
                r'<a class="mark mark--\d" href="/shoes/(shoe-\d\d)/">', client.get(f"/?page={page}").content.decode()
            )
        )
    assert len(seen) == 30
