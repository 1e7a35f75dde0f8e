"""A manager's pages of stock: the grid, the file out and in. Own store only."""

from __future__ import annotations

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from catalogue.models import StockItem
from core.gate.access import Role
from core.models import AuditEntry, Membership
from tests.shared import shared

GRID = "/wall/stock/store-a/"
COUNT = "/wall/stock/store-a/count/"
PAGES = ["", "file/", "count/"]


@pytest.fixture
def manager(cast, sign_in):
    return sign_in(cast.manager_a)


@shared
def shoe(make_shoe, cast, put_in_stock):
    made = make_shoe()
    put_in_stock(cast.store_a, made, "42", "42.5", quantity=3)
    return made


def fields_of(page):
    """Return what the grid would send back unchanged."""
    text = page.content.decode()
    found = re.findall(r'<input[^>]*name="((?:seen|c)-[^"]+)"[^>]*value="([^"]*)"', text)
    return dict(found)


def held(store):
    return {
        str(size): pairs for size, pairs in StockItem.objects.filter(store=store).values_list("size_eu", "quantity")
    }


@pytest.mark.parametrize("page", PAGES)
def test_other_store_is_not_there(cast, sign_in, page):
    assert sign_in(cast.manager_a).get(f"/wall/stock/store-b/{page}").status_code == 404


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("who", ["technician", "fitter_a", "office"])
def test_other_roles_are_refused(cast, sign_in, page, who):
    assert sign_in(cast.members()[who]).get(f"{GRID}{page}").status_code == 403


def test_fitter_here_who_manages_elsewhere_is_refused_here(cast, sign_in):
    Membership.objects.create(user=cast.fitter_b, role=Role.MANAGER, store=cast.store_a)
    assert sign_in(cast.fitter_b).get("/wall/stock/store-b/").status_code == 403


def test_home_leads_to_the_own_store(manager):
    assert manager.get("/wall/stock/").headers["Location"] == GRID


def test_home_lets_those_of_several_stores_choose(cast, sign_in):
    Membership.objects.create(user=cast.manager_a, role=Role.MANAGER, store=cast.store_b)
    page = sign_in(cast.manager_a).get("/wall/stock/").content.decode()
    assert "/wall/stock/store-a/" in page
    assert "/wall/stock/store-b/" in page


def test_unchanged_grid_saves_nothing(manager, shoe, cast):
    sizes = "?sizes=42"
    entries = AuditEntry.objects.count()
    page = manager.post(GRID + sizes, fields_of(manager.get(GRID + sizes)), follow=True)
    assert "Nothing was changed." in page.content.decode()
    assert AuditEntry.objects.count() == entries
    assert held(cast.store_a) == {"42.0": 3, "42.5": 3}


def test_changed_cells_alone_are_saved(manager, shoe, cast):
    fields = fields_of(manager.get(f"{GRID}?sizes=42"))
    fields |= {f"c-{shoe.pk}-42.0": "5", f"c-{shoe.pk}-42.5": "", f"c-{shoe.pk}-43.0": "1"}
    entries = AuditEntry.objects.count()
    page = manager.post(f"{GRID}?sizes=42", fields, follow=True)
    assert "3 sizes saved." in page.content.decode()
    assert held(cast.store_a) == {"42.0": 5, "42.5": 0, "43.0": 1}
    assert AuditEntry.objects.count() == entries + 3


def test_cell_changed_meanwhile_is_shown_and_then_saved_knowingly(manager, shoe, cast):
    fields = fields_of(manager.get(f"{GRID}?sizes=42"))
    StockItem.objects.filter(shoe=shoe, size_eu="42").update(quantity=9)
    refused = manager.post(f"{GRID}?sizes=42", fields | {f"c-{shoe.pk}-42.0": "5"})
    text = refused.content.decode()
    assert refused.status_code == 409
    assert "it was 3 when you opened the page and is 9 now; you entered 5" in text
    assert held(cast.store_a)["42.0"] == 9
    again = fields_of(refused)
    assert again[f"c-{shoe.pk}-42.0"] == "5"
    manager.post(f"{GRID}?sizes=42", again)
    assert held(cast.store_a)["42.0"] == 5


def test_cell_that_is_no_number_is_named_and_kept_for_mending(manager, shoe, cast):
    fields = fields_of(manager.get(f"{GRID}?sizes=42"))
    refused = manager.post(f"{GRID}?sizes=42", fields | {f"c-{shoe.pk}-42.0": "-1", f"c-{shoe.pk}-42.5": "8"})
    text = refused.content.decode()
    assert refused.status_code == 400
    assert "“-1” is not a whole number of pairs" in text
    assert fields_of(refused)[f"c-{shoe.pk}-42.5"] == "8"
    assert held(cast.store_a) == {"42.0": 3, "42.5": 3}


@pytest.mark.parametrize(
    "fields",
    [
        {"seen-1": "garbage"},
        {"seen-1": "42.0:3,99.9:1"},
        {"seen-99999999999": ""},
        {"seen-999999": "42.0:", "c-999999-42.0": "4"},
        {"c-1-42.0": "4"},
        {"seen-1": "42.0:99999"},
        {"seen-1-0": "D|42.0:1|", "c-1-0-42.0": "2"},
        {"seen-1-0": "\x00|42.0:", "c-1-0-42.0": "2"},
    ],
)
def test_damaged_grid_changes_nothing_and_never_fails(manager, shoe, cast, fields):
    assert manager.post(GRID, fields).status_code in (302, 400, 409)
    assert held(cast.store_a) == {"42.0": 3, "42.5": 3}


@pytest.mark.parametrize("query", ["?scope=x", "?band=99", "?sizes=1", "?q=%00", "?band=x&q=a"])
def test_filter_that_cannot_be_read_is_named_beside_the_grid(manager, shoe, query):
    answer = manager.get(GRID + query)
    assert (answer.status_code, bool(answer.context["filter"].errors)) == (400, True)
    assert shoe.name in answer.content.decode()


@pytest.mark.parametrize("query", ["?page=x", "?page=99"])
def test_page_that_there_is_not_leads_to_one_that_there_is(manager, shoe, query):
    assert manager.get(GRID + query).status_code == 200


@pytest.mark.parametrize(
    ("query", "field", "words"),
    [
        ("?q=" + "a" * 81, "q", "Write at most 80 characters; these are 81."),
        ("?q=%07", "q", "Write this without line breaks or control characters."),
        ("?band=99", "band", "This is not one of the choices of “Band”."),
    ],
)
def test_filter_says_what_is_wrong_in_the_words_of_other_forms_and_beside_its_field(manager, shoe, query, field, words):
    page = manager.get(GRID + query).content.decode()
    problem = re.search(rf'<div id="id_{field}_error">(.*?)</div>', page, re.DOTALL)[1]
    assert words in problem
    assert re.search(rf'name="{field}"[^>]*aria-describedby="id_{field}_error"', page)


def test_shoes_not_in_stock_are_found_to_be_added(manager, shoe, make_shoe):
    make_shoe("plovisk-obbleck-2", brand="Plovisk", stability=75.0)
    make_shoe("plovisk-draft-1", brand="Plovisk", published=False)
    here = manager.get(GRID).content.decode()
    absent = manager.get(f"{GRID}?scope=elsewhere").content.decode()
    assert "corvane-lantern-1" in here
    assert "plovisk-obbleck-2" not in here
    assert "plovisk-obbleck-2" in absent
    assert "plovisk-draft-1" in absent
    assert "plovisk-obbleck-2" in manager.get(f"{GRID}?scope=all&band=4&q=plovisk").content.decode()


def test_file_holds_the_whole_stock_of_the_own_store(manager, shoe, cast, put_in_stock):
    put_in_stock(cast.store_b, shoe, "47")
    response = manager.get(f"{GRID}file/")
    assert response.headers["Content-Type"].startswith("text/csv")
    assert "attachment" in response.headers["Content-Disposition"]
    lines = response.content.decode("utf-8-sig").splitlines()
    assert lines[0] == "shoe,name,band,size,width,quantity"
    assert lines[1:] == [
        f"corvane-lantern-1,Corvane corvane-lantern-1 1,Little hold,{size},,3" for size in ("42.0", "42.5")
    ]  # fmt: skip


def send(client, text, **more):
    file = SimpleUploadedFile("stock.csv", text.encode(), content_type="text/csv")
    return client.post(COUNT, {"file": file, **more})


def staged_in(page):
    return re.search(r'name="staged" value="([^"]+)"', page.content.decode())[1]


def test_file_is_shown_before_anything_is_saved(manager, shoe, cast):
    page = send(manager, "shoe,size,quantity\ncorvane-lantern-1,42,5\ncorvane-lantern-1,43,1\n")
    text = page.content.decode()
    assert "Nothing is saved yet. 2 sizes would change" in text
    assert "1 size in stock is not in the file: it stays as it is" in text
    assert held(cast.store_a) == {"42.0": 3, "42.5": 3}
    done = manager.post(COUNT, {"staged": staged_in(page)}, follow=True)
    assert "2 sizes saved from the file." in done.content.decode()
    assert held(cast.store_a) == {"42.0": 5, "42.5": 3, "43.0": 1}


def test_converted_sizes_of_a_file_are_marked_in_the_preview_and_stored_in_eu(manager, shoe, cast):
    lines = "".join(f"corvane-lantern-1,{size},5\n" for size in ("UK 7", "US M 9", "US W 12", "280 mm", "38"))
    page = send(manager, f"shoe,size,quantity\n{lines}")
    text = page.content.decode().replace("\xa0", " ")
    marked = ["about EU 40.5 (UK 7)", "about EU 41.5 (US M 9)", "about EU 44 (US W 12)", "about EU 44.5 (280 mm)"]
    assert [words in text for words in marked] == [True] * 4
    assert ">EU 38<" in text
    manager.post(COUNT, {"staged": staged_in(page)})
    there = {"38.0": 5, "40.5": 5, "41.5": 5, "42.0": 3, "42.5": 3, "44.0": 5, "44.5": 5}
    assert held(cast.store_a) == there


def test_whole_count_sells_out_what_is_not_in_the_file(manager, shoe, cast):
    page = send(manager, "shoe,size,quantity\ncorvane-lantern-1,42,3\n", is_whole="on")
    manager.post(COUNT, {"staged": staged_in(page)})
    assert held(cast.store_a) == {"42.0": 3, "42.5": 0}


def test_stock_changed_after_the_preview_is_reported_first(manager, shoe, cast):
    page = send(manager, "shoe,size,quantity\ncorvane-lantern-1,42,5\n")
    StockItem.objects.filter(shoe=shoe, size_eu="42").update(quantity=8)
    refused = manager.post(COUNT, {"staged": staged_in(page)})
    assert refused.status_code == 409
    assert "3 in the preview, 8 now, 5 in the file" in refused.content.decode()
    assert held(cast.store_a)["42.0"] == 8
    manager.post(COUNT, {"staged": staged_in(refused)})
    assert held(cast.store_a)["42.0"] == 5


def test_file_with_mistakes_names_them_and_saves_nothing(manager, shoe, cast):
    page = send(manager, "shoe;size;quantity\ncorvane-lantern-1;42,5;-2\nno-such;42;1\n")
    text = page.content.decode()
    assert page.status_code == 400
    assert "Refused: 2 problems" in text
    assert "no shoe “no-such”" in text
    assert held(cast.store_a) == {"42.0": 3, "42.5": 3}


def test_own_file_changes_nothing(manager, shoe):
    own = manager.get(f"{GRID}file/").content.decode("utf-8-sig")
    assert "The file changes nothing" in send(manager, own).content.decode()


@pytest.mark.parametrize("staged", ["", "garbage", "a:b:c"])
def test_preview_that_came_back_damaged_is_refused(manager, shoe, cast, staged):
    page = manager.post(COUNT, {"staged": staged}, follow=True)
    assert "Send the file again" in page.content.decode()
    assert held(cast.store_a) == {"42.0": 3, "42.5": 3}


def test_preview_of_another_store_is_refused(cast, sign_in, shoe):
    Membership.objects.create(user=cast.manager_a, role=Role.MANAGER, store=cast.store_b)
    client = sign_in(cast.manager_a)
    page = send(client, "shoe,size,quantity\ncorvane-lantern-1,42,5\n")
    refused = client.post("/wall/stock/store-b/count/", {"staged": staged_in(page)}, follow=True)
    assert "of another store" in refused.content.decode()
    assert held(cast.store_b) == {}


def test_shoe_of_several_widths_has_a_row_for_each(manager, shoe, cast):
    shoe.widths = ["D", "2E"]
    shoe.save()
    page = manager.get(f"{GRID}?sizes=42")
    assert "width not known" in page.content.decode()
    fields = fields_of(page) | {f"c-{shoe.pk}-2-42.0": "1", f"c-{shoe.pk}-1-42.0": "4"}
    saved = manager.post(f"{GRID}?sizes=42", fields, follow=True)
    assert fields_of(saved)[f"c-{shoe.pk}-1-42.0"] == "4"
    assert held(cast.store_a) == {"42.0": 5, "42.5": 3}
    lines = manager.get(f"{GRID}file/").content.decode("utf-8-sig").splitlines()
    assert [line.split(",", 3)[3] for line in lines[1:]] == ["42.0,,1", "42.0,2E,4", "42.5,,3"]
    wrong = manager.post(f"{GRID}?sizes=42", fields | {f"c-{shoe.pk}-0-42.0": "two"})
    assert f'href="#c-{shoe.pk}-0-42.0"' in wrong.content.decode()


def test_file_counts_widths_and_says_so_before_it_saves(manager, shoe, cast):
    shoe.widths = ["D", "2E"]
    shoe.save()
    page = send(manager, "shoe,size,width,quantity\ncorvane-lantern-1,42,D,2\ncorvane-lantern-1,42,,1\n", is_whole="on")
    text = page.content.decode().replace("\xa0", " ")
    assert "EU 42, width D" in text
    assert "EU 42, width not known" in text
    manager.post(COUNT, {"staged": staged_in(page)})
    assert held(cast.store_a) == {"42.0": 3, "42.5": 0}
    page = send(manager, "shoe,size,width,quantity\ncorvane-lantern-1,42,3E,2\n")
    assert "The shoe comes in D, 2E." in page.content.decode()


def test_no_file_says_so(manager):
    page = manager.post(COUNT, {})
    assert page.status_code == 400
    assert "The file was not read" in page.content.decode()


def test_queries_do_not_grow_with_the_shoes(manager, cast, make_shoe, put_in_stock, django_assert_num_queries):
    counts = []
    for numbers in (range(3), range(3, 12)):
        for number in numbers:
            put_in_stock(cast.store_a, make_shoe(f"shoe-{number:02}", stability=52.0 + number), "42")
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        with CaptureQueriesContext(connection) as captured:
            manager.get(GRID)
        counts.append(len(captured))
    assert counts[0] == counts[1] <= 18
