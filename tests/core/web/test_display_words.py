from __future__ import annotations

import datetime as dt
import math
from decimal import Decimal

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.core.paginator import Paginator
from django.template import Context, Template, engines
from hypothesis import given
from hypothesis import strategies as st

from core.gate import navigation
from core.gate.access import PUBLIC, SIGNED_IN
from core.web import display
from core.web.cautions import (
    CAUTIONS,
    HEALTH_DATA,
    NOT_TREATMENT,
    SEE_A_CLINICIAN,
    TRIALS_DISAGREE,
    cautions,
    cautions_in_brief,
)


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (47.94, 1, "47.9"),
        (-3.06, 1, "−3.1"),
        (-0.04, 1, "0.0"),
        (0, 1, "0.0"),
        (1234.5, 0, "1234"),
        (9999.4, 0, "9999"),
        (9999.6, 0, "10\u202f000"),
        (-1234567.891, 2, "−1\u202f234\u202f567.89"),
        (Decimal("2.55"), 2, "2.55"),
        (None, 1, "–"),
        (math.nan, 1, "–"),
    ],
)
def test_number(value, digits, text):
    assert display.number(value, digits) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [(2, "+2.0"), (12000, "+12\u202f000.0"), (-2, "−2.0"), (0.04, "0.0"), (-0.04, "0.0"), (None, "–")],
)
def test_signed(value, text):
    assert display.signed(value) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.934, "93 %"),
        (0.0, "0 %"),
        (1.0, "100 %"),
        (0.9999, "> 99 %"),
        (0.002, "< 1 %"),
        (0.005, "< 1 %"),
        (0.995, "> 99 %"),
        (0.994, "99 %"),
        (None, "–"),
    ],
)
def test_percent_is_never_surer_than_it_is(value, text):
    assert display.percent(value).replace("\u00a0", " ") == text


@pytest.mark.parametrize(("value", "text"), [(1.0, "> 99 %"), (0.0, "< 1 %"), (0.934, "93 %"), (None, "–")])
def test_an_estimated_probability_is_never_certain(value, text):
    assert display.probability(value).replace("\u00a0", " ") == text


def test_a_value_and_its_uncertainty_stay_on_one_line():
    assert display.give_or_take(0.72) == "\u00a0±\u00a00.7"
    assert display.give_or_take(None) == ""


@pytest.mark.parametrize(
    ("value", "kind", "metric", "imperial"),
    [
        (281.0, "mass", "281 g", "9.9 oz"),
        (82.0, "body_mass", "82 kg", "181 lb"),
        (8.0, "length", "8.0 mm", "0.31 in"),
        (444.8222, "force", "444.8 N", "100.0 lbf"),
        (4.519393, "torque", "4.52 N·m", "40.0 in·lbf"),
        (2.22411, "energy", "2.22 J", "19.7 in·lbf"),
        (44.482216, "stiffness", "44.5 N/mm", "254 lbf/in"),
        (23.0, "temperature", "23.0 °C", "73.4 °F"),
        (1.609344, "distance", "2 km", "1 mi"),
    ],
)
def test_measures_in_both_systems(value, kind, metric, imperial):
    assert display.measure(value, kind).replace("\u00a0", " ") == metric
    assert display.measure(value, kind, "imperial").replace("\u00a0", " ") == imperial
    assert display.measure(value, kind, "nonsense").replace("\u00a0", " ") == metric


def test_missing_measure_is_a_dash():
    assert display.measure(None, "mass") == "–"


@given(st.floats(-1e6, 1e6))
def test_written_number_reads_back_within_half_a_step(value):
    assert abs(float(display.number(value).replace("−", "-").replace("\u202f", "")) - value) <= 0.05 + 1e-9


@pytest.mark.parametrize(
    ("value", "text"), [(Decimal("42.5"), "EU 42.5"), (Decimal("43.0"), "EU 43"), (42, "EU 42"), (None, "–")]
)
def test_size(value, text):
    assert display.size(value).replace("\u00a0", " ") == text


def test_dates_in_words():
    assert display.day(dt.date(2026, 3, 4)) == "4 March 2026"
    assert display.day(dt.datetime(2026, 3, 4, 10, 15, tzinfo=dt.UTC)) == "4 March 2026"
    assert display.moment(dt.datetime(2026, 3, 4, 10, 5, tzinfo=dt.UTC)) == "4 March 2026, 10:05"
    assert (display.day(None), display.moment(None)) == ("–", "–")


def test_naive_moment_is_taken_as_it_is():
    naive = dt.datetime(2026, 3, 4, 10, 5, tzinfo=dt.UTC).replace(tzinfo=None)
    assert (display.day(naive), display.moment(naive)) == ("4 March 2026", "4 March 2026, 10:05")


def test_counts_and_lists():
    assert display.count(1, "shoe") == "1 shoe"
    assert display.count(1500, "shoe") == "1500 shoes"
    assert display.count(15000, "shoe") == "15\u202f000 shoes"
    assert display.count(2, "foot", "feet") == "2 feet"
    assert [display.listed(words) for words in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == [
        "",
        "a",
        "a and b",
        "a, b and c",
    ]
    assert display.listed(["a", "b"], "or") == "a or b"


def test_telephone_numbers_are_dialled_without_their_signs():
    assert display.dialled("01632 960103") == "01632960103"
    assert display.dialled("(+44) 1632-960 103") == "+441632960103"
    assert display.dialled("1632 + 4") == "16324"


def test_filters_leave_the_built_in_ones_alone():
    builtins = {name for library in engines["django"].engine.template_builtins for name in library.filters}
    from core.templatetags.measures import register

    assert not builtins & set(register.filters)


def test_filters_take_the_units_of_the_page():
    template = Template("{% load measures %}{{ mass|mass:units }} {{ drop|length_mm:units }} {{ score|number }}")
    said = template.render(Context({"mass": 283.5, "drop": 8.0, "score": -1.25, "units": "imperial"}))
    assert said.replace("\u00a0", " ") == "10.0 oz 0.31 in −1.2"


@pytest.mark.parametrize("topic", sorted(CAUTIONS))
def test_cautions_that_stand_everywhere(topic):
    assert cautions(topic)[:3] == (NOT_TREATMENT, TRIALS_DISAGREE, SEE_A_CLINICIAN)


@pytest.mark.parametrize("topic", ["need", "recommendation", "outcome", "method"])
def test_cautions_name_the_rules_on_health_data(topic):
    assert HEALTH_DATA in cautions(topic)


@pytest.mark.parametrize("topic", sorted(CAUTIONS))
def test_caution_component_says_every_line(topic):
    said = Template('{% include "components/caution.html" with topic=topic only %}').render(Context({"topic": topic}))
    assert all(line in said for line in cautions(topic))


@pytest.mark.parametrize("topic", sorted(CAUTIONS))
def test_caution_in_brief_leaves_none_out(topic):
    brief = cautions_in_brief(topic)
    assert len(brief) == len(set(brief)) == len(cautions(topic))
    assert "clinician come first" in " ".join(brief)
    use = '{% include "components/caution.html" with topic=topic short=True only %}'
    said = Template(use).render(Context({"topic": topic}))
    assert all(line in said for line in brief)


def test_pager_keeps_the_query_and_names_the_rows(rf):
    request = rf.get("/x/?page=2&q=a%26b&band=1&band=2")
    page = Paginator(range(95), 20).page(2)
    template = Template('{% load paging %}{% pager page noun="tests" %}')
    said = template.render(Context({"request": request, "page": page}))
    assert "21 to 40 of 95 tests, page 2 of 5" in said
    assert 'href="?q=a%26b&amp;band=1&amp;band=2"' in said
    assert 'href="?q=a%26b&amp;band=1&amp;band=2&amp;page=3"' in said


def test_pager_of_one_page_counts_only():
    said = Template("{% load paging %}{% pager page %}").render(Context({"page": Paginator(range(3), 20).page(1)}))
    assert "3 rows" in said
    assert "href" not in said


def test_pager_of_nothing_is_not_shown():
    assert (
        not Template("{% load paging %}{% pager page %}").render(Context({"page": Paginator([], 20).page(1)})).strip()
    )


def test_score_component_says_what_is_not_known():
    template = Template('{% include "components/score.html" with score=score only %}')
    sure = {"value": 47.93, "expanded_uncertainty": 2.13, "estimated": False}
    unsure = {"value": 47.93, "expanded_uncertainty": None, "estimated": True}
    assert "± 2.1" in template.render(Context({"score": sure}))
    said = template.render(Context({"score": unsure}))
    assert "uncertainty unknown" in said
    assert "(estimated)" in said


@pytest.fixture
def places(monkeypatch):
    monkeypatch.setattr(navigation, "_groups", {})
    navigation.register(navigation.SITE, [navigation.Place("Stores", "catalogue:store-list", PUBLIC)], order=0)
    navigation.register("Own", [navigation.Place("Home", "core:home", SIGNED_IN)], order=9)


@pytest.mark.usefixtures("places")
def test_places_follow_what_the_gate_allows(cast):
    from django.contrib.auth.models import AnonymousUser

    assert navigation.staff_groups(AnonymousUser(), "/") == ()
    assert navigation.staff_groups(None, "/") == ()
    (group,) = navigation.staff_groups(cast.fitter_a, "/home/")
    assert [(link.label, link.is_here, link.current) for link in group.items] == [("Home", True, "page")]
    assert [link.label for link in navigation.site_links(None, "/")] == ["Stores"]


@pytest.mark.usefixtures("places")
def test_place_holds_the_pages_below_it():
    (link,) = navigation.site_links(None, "/stores/harbour/")
    assert (link.is_here, link.current) == (True, "true")
    (link,) = navigation.site_links(None, "/")
    assert not link.is_here


@pytest.mark.usefixtures("places")
def test_unknown_action_of_a_place_is_refused():
    with pytest.raises(ImproperlyConfigured, match="Unknown action"):
        navigation.register("Lab", [navigation.Place("Rigs", "core:home", "labtests.moon:walk")])


def test_every_registered_place_has_an_address():
    from django.urls import reverse

    for group, places in navigation.registered().items():
        for place in places:
            assert reverse(place.url_name), (group, place)
