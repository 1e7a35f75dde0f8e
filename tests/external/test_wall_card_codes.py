"""The QR codes on printed wall cards, read by a program that is not the one that drew them.

Symbols are of ISO/IEC 18004; the reader is zxing-cpp, an independent implementation of it (PKG).
"""

from __future__ import annotations

import datetime as dt
import re

import numpy as np
import pytest
import zxingcpp

from catalogue.presentation.wall_cards import code_for
from catalogue.services import (
    PublishedScores,
    brand_create,
    print_run_record,
    score_card_publish,
    shoe_create,
)

QUIET_ZONE = 4  # modules around a symbol, ISO/IEC 18004 (MEM)
DOT_PX = 4


def picture_of(svg):
    """Paint the symbol as a printer would: the path's strokes are one module high, around the middle of a row."""
    (side,) = {int(part) for part in re.search(r'viewBox="0 0 (\d+) (\d+)"', svg).groups()}
    paper = np.full((side, side), 255, dtype=np.uint8)
    (path,) = re.findall(r'<path (?![^>]*fill="#fff")[^>]*\bd="([^"]+)"', svg)
    x = y = 0.0
    for command, numbers in re.findall(r"([Mmh])([-\d. ]+)", path):
        values = [float(value) for value in re.findall(r"-?\d*\.?\d+", numbers)]
        if command == "M":
            x, y = values
        elif command == "m":
            x, y = x + values[0], y + values[1]
        else:
            paper[int(y), int(x) : int(x + values[0])] = 0
            x += values[0]
    return np.kron(paper, np.ones((DOT_PX, DOT_PX), dtype=np.uint8))


def read(svg):
    found = zxingcpp.read_barcodes(picture_of(svg))
    return [(str(code.format), code.text) for code in found]


@pytest.mark.parametrize("length", [1, 30, 80])
def test_code_leads_to_the_address_it_was_made_for(length):
    address = f"https://shoes.example/shoes/{'corvane-lantern-' * 5}"[: 27 + length]
    ((kind, text),) = read(code_for(address))
    assert kind.replace(" ", "").startswith("QRCode")
    assert text == address


def test_code_has_its_quiet_zone():
    picture = picture_of(code_for("https://shoes.example/"))
    edge = QUIET_ZONE * DOT_PX
    inside = np.zeros_like(picture, dtype=bool)
    inside[edge:-edge, edge:-edge] = True
    assert (picture[~inside] == 255).all()
    assert (picture[inside] == 0).any()


SCORES = {"stability": 55.0, "midfoot": 57.0, "rearfoot": 53.0, "cushioning": 60.0, "specimens": 2}


@pytest.fixture
def shoes(cast):
    scores = PublishedScores(
        scale="S1", band=2, tested_on=dt.date(2026, 3, 4), scoring_model="S1", protocol="P1", **SCORES
    )
    brand = brand_create(actor=None, slug="corvane", name="Corvane")
    made = [shoe_create(actor=None, slug=f"corvane-{name}", brand=brand, name=name) for name in ("reed", "sedge")]
    for shoe in made:
        score_card_publish(actor=cast.reviewer, shoe=shoe, scores=scores, reason="tested")
    return made


def test_printed_card_leads_to_its_shoe(cast, sign_in, client, shoes, settings):
    run = print_run_record(
        actor=cast.manager_a, store=cast.store_a, shoes=[shoe.pk for shoe in shoes], paper="a4", cards_per_sheet=4
    )
    page = sign_in(cast.manager_a).get(f"/wall/cards/store-a/{run.pk}/").content.decode()
    codes = re.findall(r"<svg[^>]*wall-card__code.*?</svg>", page, re.DOTALL)
    addresses = [text for code in codes for _, text in read(code)]
    assert addresses == [f"{settings.SITE_URL}/shoes/{shoe.slug}/" for shoe in shoes]
    for address, shoe in zip(addresses, shoes, strict=True):
        answer = client.get(address.removeprefix(settings.SITE_URL))
        assert answer.status_code == 200
        assert shoe.name in answer.content.decode()
