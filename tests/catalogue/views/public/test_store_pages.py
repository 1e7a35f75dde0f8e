from __future__ import annotations

from catalogue.selectors.public import method


def test_stores_are_listed_with_what_they_hold(client, make_shoe, make_store, put_in_stock):
    store = make_store()
    make_store("mill-lane", "Mill Lane")
    put_in_stock(store, make_shoe(), "42")
    page = client.get("/stores/").content.decode()
    assert "1 measured shoe in stock" in page
    assert "0 measured shoes in stock" in page
    assert '<a href="/stores/mill-lane/">Mill Lane</a>' in page


def test_store_shows_its_own_sizes_only(client, make_shoe, make_store, put_in_stock):
    shoe = make_shoe()
    put_in_stock(make_store(), shoe, "42")
    put_in_stock(make_store("mill-lane", "Mill Lane"), shoe, "44")
    page = client.get("/stores/harbour/").content.decode()
    # The token of the form above the page is random and may hold any digits.
    content = page[page.index("<main") : page.index("</main>")]
    assert "EU\u00a042<" in content
    assert "44" not in content


def test_store_without_stock_says_so(client, make_store):
    make_store()
    assert b"No measured shoe is in stock here" in client.get("/stores/harbour/").content


def test_no_store_says_so(client, db):
    assert b"No store is listed yet" in client.get("/stores/").content


def test_method_page_has_bands_formulas_and_cautions(client, make_shoe):
    make_shoe()
    page = client.get("/how-we-measure/").content.decode()
    for words in (
        "50 to below 60",
        "below 50",
        "80 and above",
        "protocol version 1, scoring model version 1, scale version 1",
        "licensed clinician",
    ):
        assert words in page
    assert "without a published source" in page


def test_method_page_shows_what_the_lab_shows(client, db):
    page = client.get("/how-we-measure/").content.decode().replace("\u00a0", " ")
    for words in (
        "Anchors of the scoring model, version 1",
        "100 · (torque − 0.00 N·m) / (9.04 N·m − 0.00 N·m)",
        "100 · (10.0 mm − deflection) / (10.0 mm − 3.0 mm)",
        "0.54 · midfoot + 0.46 · rearfoot",
        "pressed to 444.8 N, the weight of 45 kg",
        "turned against each other to 15°",
        "less than 80 % in its band",
        "fewer than 2 specimens",
    ):
        assert words in page


def test_method_page_is_in_the_readers_units(client, db):
    client.cookies["units"] = "imperial"
    page = client.get("/how-we-measure/").content.decode().replace("\u00a0", " ")
    for words in ("80.0 in·lbf", "100.0 lbf, the weight of 100 lb", "0.39 in"):
        assert words in page
    assert "444.8 N" not in page


def test_method_page_follows_the_protocol_and_the_models(client, db):
    from labtests.models import ScoringModel

    client.get("/how-we-measure/")
    tag = client.get("/how-we-measure/").headers["ETag"]
    assert client.get("/how-we-measure/", headers={"If-None-Match": tag}).status_code == 304
    model = ScoringModel.objects.get(version="S1")
    ScoringModel.objects.update(is_current=False)
    model.pk, model.version, model.weight_midfoot, model.weight_rearfoot = None, "S2", 0.6, 0.4
    model.save()
    changed = client.get("/how-we-measure/", headers={"If-None-Match": tag})
    assert changed.status_code == 200
    assert "0.60 · midfoot + 0.40 · rearfoot" in changed.content.decode()


def test_method_page_works_without_a_lab(client, db, monkeypatch):
    monkeypatch.setattr(method, "_labs", [])
    response = client.get("/how-we-measure/")
    assert response.status_code == 200
    assert "What the trials say" in response.content.decode()


def test_trials_are_reported_with_their_intervals(client, db):
    page = client.get("/how-we-measure/").content.decode()
    for words in ("0.97 (0.88 to 1.06)", "0.55 (0.36 to 0.85)", "1.52 (1.07 to 2.16)", "Published trials disagree"):
        assert words in page


def test_store_that_is_gone_leads_to_those_that_there_are(client, make_store):
    make_store()
    answer = client.get("/stores/mill-lane/", follow=True)
    assert answer.redirect_chain == [("/stores/", 302)]
    page = answer.content.decode()
    assert "We have no store “mill-lane”. These are our stores." in page
    assert '<a href="/stores/harbour/">Harbour</a>' in page


def test_store_leads_to_asking_for_a_fitting_and_to_its_display(client, make_shoe, make_store, put_in_stock):
    put_in_stock(make_store(), make_shoe(), "42")
    page = client.get("/stores/harbour/").content.decode()
    assert '<a class="button" href="/start/ask/?store=harbour">' in page
    assert '<a href="/screen/?store=harbour">' in page
    assert '<a href="/start/ask/?store=harbour">' in client.get("/stores/").content.decode()
