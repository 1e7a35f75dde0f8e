from __future__ import annotations

import re


def words_of(client):
    page = client.get("/how-we-measure/").content.decode()
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page)).replace("\u00a0", " ")


def test_public_method_shows_the_protocol_and_model_in_use(client, db):
    page = words_of(client)
    for words in (
        "Test protocol, version 1",
        "Conditioning time 48 h 48 h or more",
        "Midsole temperature 23.0 °C 21.0 °C to 25.0 °C",
        "Heel clamp 444.8 N 422.6 N to 467.0 N",
        "Anchors of the scoring model, version 1",
        "Midfoot: torque at 15° 0.00 N·m 9.04 N·m",
        "Rearfoot: deflection 10.0 mm 3.0 mm",
        "Cushioning: work 0.67 J 2.22 J",
        "0.54 and 0.46",
    ):
        assert words in page


def test_public_method_is_shown_in_the_readers_units(client, db):
    client.cookies["units"] = "imperial"
    page = words_of(client)
    assert "Heel clamp 100.0 lbf 95.0 lbf to 105.0 lbf" in page
    assert "Midfoot: torque at 15° 0.0 in·lbf 80.0 in·lbf" in page
