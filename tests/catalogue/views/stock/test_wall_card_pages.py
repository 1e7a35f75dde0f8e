"""Wall cards: printed from the published scores, recorded, and found again when the scores changed."""

from __future__ import annotations

import re

import pytest

from catalogue.models import CARDS_MOST, PrintedCard, PrintRun
from catalogue.presentation import wall_cards
from catalogue.services import print_run_record, print_run_withdraw, score_card_publish
from core import audit
from core.audit.verification import faults
from core.domain.errors import DomainError
from tests.shared import shared

LIST = "/wall/cards/store-a/"
FORM = {"paper": "a4", "cards_per_sheet": "4"}


@pytest.fixture
def manager(cast, sign_in):
    return sign_in(cast.manager_a)


@shared
def shoe(make_shoe, cast, put_in_stock):
    made = make_shoe()
    put_in_stock(cast.store_a, made, "42")
    return made


@shared
def printed(cast, shoe):
    return print_run_record(actor=cast.manager_a, store=cast.store_a, shoes=[shoe.pk], paper="a4", cards_per_sheet=4)


@pytest.fixture
def rescore(publisher, scores_for):
    def publish(shoe, stability):
        return score_card_publish(actor=publisher, shoe=shoe, scores=scores_for(stability), reason="more specimens")

    return publish


@pytest.mark.parametrize("page", ["", "1/"])
def test_other_store_is_not_there(manager, page):
    assert manager.get(f"/wall/cards/store-b/{page}").status_code == 404


@pytest.mark.parametrize("who", ["technician", "fitter_a", "office"])
def test_other_roles_are_refused(cast, sign_in, who):
    assert sign_in(cast.members()[who]).get(LIST).status_code == 403


def test_run_of_another_store_is_not_there(manager, cast, printed):
    PrintRun.objects.filter(pk=printed.pk).update(store=cast.store_b)
    assert manager.get(f"{LIST}{printed.pk}/").status_code == 404
    assert manager.post(f"{LIST}{printed.pk}/withdraw/").status_code == 404


def test_ticked_shoe_is_printed_and_recorded(manager, shoe, cast):
    response = manager.post(LIST, FORM | {"which": "ticked", "shoe": [shoe.pk]})
    run = PrintRun.objects.get()
    assert response.headers["Location"] == f"{LIST}{run.pk}/"
    assert (run.store, run.printed_by, run.paper, run.cards_per_sheet) == (cast.store_a, cast.manager_a, "a4", 4)
    entry = audit.entries_of(run).first()
    assert entry.action == "catalogue.print_run.recorded"
    assert [row["shoe_id"] for row in entry.content["after"]["cards"]] == [shoe.pk]


def test_card_says_what_is_published_and_leads_to_its_page(manager, shoe, printed, settings):
    settings.SITE_URL = "https://shoes.example.org"
    text = manager.get(f"{LIST}{printed.pk}/").content.decode().replace("\u00a0", " ")
    for words in (
        "55.0 ± 2.0", "57.0 ± 2.4", "60.0 ± 1.6", "Little hold", "Slight inward roll", "middling to twist",
        "absorbs much", "No diagnosis, no treatment", "model version 1",
        "shoes.example.org/shoes/corvane-lantern-1/",
    ):  # fmt: skip
        assert words in text, words
    assert 'class="wall-card__code"' in text
    assert "style=" not in re.search(r"<article.*</article>", text, re.DOTALL)[0]


def test_whole_band_in_stock_is_printed(manager, shoe, make_shoe, cast, put_in_stock):
    other = make_shoe("plovisk-obbleck-2", stability=52.0)
    firm = make_shoe("plovisk-grettle-1", stability=75.0)
    make_shoe("plovisk-nowhere-1", stability=53.0)
    for made in (other, firm):
        put_in_stock(cast.store_a, made, "43")
    manager.post(LIST, FORM | {"which": "band-2"})
    assert list(PrintedCard.objects.values_list("shoe__slug", flat=True)) == ["plovisk-obbleck-2", "corvane-lantern-1"]


def test_card_is_out_of_date_once_the_score_changed_and_holds_after_the_reprint(manager, shoe, printed, rescore):
    assert "Every card on the wall matches the published scores" in manager.get(LIST).content.decode()
    rescore(shoe, 58.0)
    text = manager.get(LIST).content.decode()
    assert "out of date: says 55.0, Little hold" in text
    assert "Print this card again" in text
    grid = manager.get("/wall/stock/store-a/").content.decode()
    assert "1 wall card no longer matches" in grid
    assert "out of date: says 55.0" in grid
    old = manager.get(f"{LIST}{printed.pk}/").content.decode()
    assert "No longer the published score" in old
    manager.post(LIST, FORM | {"which": "failing"})
    assert "Every card on the wall matches the published scores" in manager.get(LIST).content.decode()
    assert "card up to date" in manager.get(f"{LIST}?card=good").content.decode()


def test_newer_card_counts_and_not_an_older_one(manager, shoe, printed, rescore, cast):
    rescore(shoe, 58.0)
    print_run_record(actor=cast.manager_a, store=cast.store_a, shoes=[shoe.pk], paper="letter", cards_per_sheet=1)
    for state, there in (("old", False), ("good", True), ("none", False)):
        assert (f'name="shoe" value="{shoe.pk}"' in manager.get(f"{LIST}?card={state}").content.decode()) is there, (
            state
        )


def test_withdrawn_run_does_not_hang(manager, shoe, printed, rescore):
    rescore(shoe, 58.0)
    manager.post(f"{LIST}{printed.pk}/withdraw/")
    text = manager.get(LIST).content.decode()
    assert "Every card on the wall matches the published scores" in text
    assert "no card" in text
    assert audit.entries_of(printed).first().action == "catalogue.print_run.withdrawn"


def test_withdrawing_twice_writes_one_entry(cast, printed):
    for _ in range(2):
        print_run_withdraw(actor=cast.manager_a, run=printed)
    assert audit.entries_of(printed).count() == 2


def test_card_of_a_shoe_that_is_not_published_any_more_is_to_be_taken_down(manager, shoe, printed):
    shoe.score_cards.update(is_current=False)
    text = manager.get(LIST).content.decode()
    assert "take it down" in text
    assert "again</button>" not in text


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"which": "ticked"}, "Choose at least one shoe"),
        ({"which": "ticked", "shoe": ["x", "99999999999"]}, "Choose at least one shoe"),
        ({"which": "ticked", "shoe": ["999999"]}, "is not published"),
        ({"which": "band-99"}, "Choose at least one shoe"),
        ({"which": "failing"}, "Choose at least one shoe"),
        ({"which": "ticked", "shoe": ["1"], "paper": "a0"}, "not one of the choices"),
        ({"which": "ticked", "shoe": ["1"], "cards_per_sheet": "3"}, "not one of the choices"),
    ],
)
def test_bad_choice_is_refused_in_words(manager, shoe, fields, words):
    page = manager.post(LIST, FORM | fields)
    assert page.status_code == 400
    assert words in page.content.decode()
    assert not PrintRun.objects.exists()


def test_more_cards_than_the_most_are_refused(cast):
    with pytest.raises(DomainError, match="At most 200 cards"):
        print_run_record(
            actor=cast.manager_a, store=cast.store_a, shoes=range(CARDS_MOST + 1), paper="a4", cards_per_sheet=4
        )


def test_unpublished_shoe_gets_no_card(cast, make_shoe):
    draft = make_shoe("plovisk-draft-1", published=False)
    with pytest.raises(DomainError, match="not published"):
        print_run_record(actor=cast.manager_a, store=cast.store_a, shoes=[draft.pk], paper="a4", cards_per_sheet=4)


def test_trail_is_whole_after_printing(printed, cast):
    print_run_withdraw(actor=cast.manager_a, run=printed)
    assert list(faults()) == []


@pytest.mark.parametrize(("count", "per_sheet", "dealt"), [(0, 4, []), (1, 8, [1]), (9, 4, [4, 4, 1]), (2, 1, [1, 1])])
def test_cards_are_dealt_on_sheets(count, per_sheet, dealt):
    assert [len(sheet.cards) for sheet in wall_cards.sheets([None] * count, per_sheet)] == dealt


@pytest.mark.parametrize("name", ["midfoot", "rearfoot", "cushioning"])
def test_words_follow_the_score_upwards(name):
    words = [wall_cards.score_words(name, value) for value in (-5.0, 19.9, 20.0, 40.0, 60.0, 80.0, 120.0)]
    assert words == [wall_cards.SCORE_WORDS[name][place] for place in (0, 0, 1, 2, 3, 4, 4)]


def test_queries_of_the_sheets_do_not_grow_with_the_cards(manager, cast, make_shoe):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    shoes = [make_shoe(f"shoe-{number:02}", stability=52.0 + number).pk for number in range(12)]
    counts = []
    for chosen in (shoes[:2], shoes):
        run = print_run_record(actor=cast.manager_a, store=cast.store_a, shoes=chosen, paper="a4", cards_per_sheet=8)
        with CaptureQueriesContext(connection) as captured:
            manager.get(f"{LIST}{run.pk}/")
        counts.append(len(captured))
    assert counts[0] == counts[1] <= 14
