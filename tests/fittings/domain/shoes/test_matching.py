"""Matching: probability, order, reasons, warnings, and why a shoe is left out."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.shoes.matching import LEFT_OUT_SHOWN, Candidates, Wish, match, probability_within

WISH = Wish(61.0, 73.0, "running", body_mass_kg=70.0, size="EU 42.5")


def shoes(*rows):
    """Candidates from short rows; what a row does not say is plain: a running shoe, u 1, in stock here."""
    plain = {
        "use": "running", "band": "Medium", "stability": 67.0, "u": 1.0, "cushioning": 50.0, "drop_mm": 8.0,
        "runner_mass_max_kg": np.nan, "here": True, "sister": False, "provisional": False, "borderline": False,
        "discontinued": False,
    }  # fmt: skip
    full = [plain | row for row in rows]
    texts = {key: [row[key] for row in full] for key in ("use", "band")}
    names = ("here", "sister", "provisional", "borderline", "discontinued")
    flags = {key: np.array([row[key] for row in full], dtype=bool) for key in names}
    names = ("stability", "u", "cushioning", "drop_mm", "runner_mass_max_kg")
    numbers = {key: np.array([row[key] for row in full], dtype=float) for key in names}
    return Candidates(slug=[row["slug"] for row in full], **texts, **flags, **numbers)


def order(found):
    return [item.slug for item in found.results]


def why(found):
    return {item.slug: item.why for item in found.left_out}


def test_probability_with_unknown_or_no_uncertainty():
    chance = probability_within([67, 60, 61, 67], [np.nan, 0, 0, 1e-9], 61, 73)
    assert np.isnan(chance[0])
    assert chance[1:].tolist() == [0.0, 1.0, 1.0]


@given(st.floats(0, 100), st.floats(0.01, 10), st.floats(0, 50), st.floats(0, 50))
def test_probability_lies_between_0_and_1_and_mirrors(score, u, low, width):
    high = low + width
    one = probability_within([score], [u], low, high)[0]
    other = probability_within([-score], [u], -high, -low)[0]
    assert 0 <= one <= 1
    assert one == pytest.approx(other, abs=1e-12)


@given(st.floats(0, 100), st.floats(0.01, 10), st.floats(0, 50), st.floats(0, 20), st.floats(0, 20))
def test_a_wider_target_is_never_less_probable(score, u, low, width, more):
    narrow = probability_within([score], [u], low, low + width)[0]
    assert probability_within([score], [u], low - more, low + width + more)[0] >= narrow - 1e-12


def test_far_shoes_keep_their_digits_on_both_sides():
    above, below = probability_within([100.0, 34.0], [3.0, 3.0], 61, 73)
    assert above > 0
    assert above == pytest.approx(below, rel=1e-9)


@pytest.mark.parametrize(
    ("u", "low", "high", "message"),
    [(-1, 0, 1, "u must be >= 0"), (1, 2, 1, "low must be <= high"), (1, np.nan, 1, "low must")],
)
def test_impossible_input_of_the_probability_is_refused(u, low, high, message):
    with pytest.raises(ValueError, match=message):
        probability_within([1.0], [u], low, high)


def test_most_probable_shoe_comes_first_with_its_reasons():
    found = match(shoes({"slug": "edge", "stability": 61.5}, {"slug": "middle"}), WISH)
    assert order(found) == ["middle", "edge"]
    assert not found.nothing_in_range
    first = found.results[0]
    assert first.in_target
    assert first.index == 1
    assert first.probability == pytest.approx(1.0, abs=1e-6)
    assert first.reasons == (
        "Stability 67.0 (Medium) is in the target 61.0 to 73.0",
        "More than 99 % probability that its true stability is in the target",
        "Made for running",
        "EU 42.5 in stock here",
    )
    assert first.warnings == ()


def test_a_shoe_to_be_had_comes_before_one_that_is_not_and_here_before_a_sister_store():
    found = match(
        shoes(
            {"slug": "nowhere", "here": False},
            {"slug": "sister", "here": False, "sister": True},
            {"slug": "here-edge", "stability": 61.2},
            {"slug": "here"},
        ),
        WISH,
    )
    assert order(found) == ["here", "sister", "here-edge", "nowhere"]
    assert "EU 42.5 in stock in a sister store" in found.results[1].reasons
    assert found.results[3].warnings == ("EU 42.5: not in any store at present",)


def test_without_a_size_stock_is_said_without_one():
    found = match(shoes({"slug": "a"}, {"slug": "b", "here": False}), replace(WISH, size=None))
    assert "In stock here" in found.results[0].reasons
    assert found.results[1].warnings == ("Any size: not in any store at present",)


def test_unknown_uncertainty_comes_last_with_no_probability_made_up():
    found = match(shoes({"slug": "unknown", "u": np.nan}, {"slug": "edge", "stability": 61.1}), WISH)
    assert order(found) == ["edge", "unknown"]
    assert found.results[1].probability is None
    assert "Uncertainty of its score is not known, so no probability is given" in found.results[1].warnings


def test_cushioning_wish_decides_between_equals():
    two = shoes(
        {"slug": "a", "cushioning": 40.0}, {"slug": "b", "cushioning": 60.0}, {"slug": "c", "cushioning": np.nan}
    )
    assert order(match(two, WISH)) == ["a", "b", "c"]
    more = match(two, replace(WISH, cushioning="more"))
    assert order(more) == ["b", "a", "c"]
    assert "Cushioning 60.0: of shoes otherwise alike the softer come first, as wished" in more.results[0].reasons
    assert not any("Cushioning" in words for words in more.results[2].reasons)
    assert order(match(two, replace(WISH, cushioning="less"))) == ["a", "b", "c"]


@pytest.mark.parametrize(("drop_mm", "warned"), [(12.1, False), (12.2, True), (4.1, False), (4.0, True)])
def test_drop_change_above_4_mm_is_warned_of(drop_mm, warned):
    found = match(shoes({"slug": "a", "drop_mm": drop_mm}), replace(WISH, current_drop_mm=8.1))
    assert any("Drop" in words for words in found.results[0].warnings) is warned


def test_drop_that_changes_less_decides_between_equals():
    found = match(shoes({"slug": "a", "drop_mm": 0.0}, {"slug": "b"}), replace(WISH, current_drop_mm=8.0))
    assert order(found) == ["b", "a"]
    assert found.results[1].warnings[0].startswith("Drop 0 mm, 8.0 mm less than the shoe worn now")


def test_shoe_worn_now_is_named():
    found = match(shoes({"slug": "a"}), replace(WISH, current_slug="a"))
    assert "The shoe worn now" in found.results[0].reasons


def test_use_that_does_not_serve_is_left_out_and_one_that_serves_comes_after():
    both = shoes({"slug": "r"}, {"slug": "w", "use": "walking"}, {"slug": "s", "use": "standing"})
    running = match(both, WISH)
    assert order(running) == ["r"]
    assert why(running)["w"] == "Made for walking, the fitting is for running"
    walking = match(both, replace(WISH, use="walking"))
    assert order(walking) == ["w", "r"]
    assert walking.results[1].warnings == ("Made for running",)
    assert order(match(both, replace(WISH, use="standing"))) == ["s", "w", "r"]


def test_mass_rule_of_the_band_leaves_out_for_runners_only():
    light = shoes({"slug": "a", "runner_mass_max_kg": 82.0, "band": "Flexible"}, {"slug": "b"})
    assert order(match(light, replace(WISH, body_mass_kg=82.0))) == ["a", "b"]
    heavy = match(light, replace(WISH, body_mass_kg=90.0))
    assert order(heavy) == ["b"]
    assert why(heavy)["a"] == "Band Flexible is for runners up to 82 kg, body mass is 90 kg"
    assert "a" in order(match(light, replace(WISH, body_mass_kg=None)))
    assert "a" in order(match(light, replace(WISH, body_mass_kg=90.0, use="walking")))


def test_nothing_in_range_gives_the_nearest_named_as_outside():
    found = match(shoes(*({"slug": f"s{n}", "stability": 50.0 + n} for n in range(6))), WISH)
    assert found.nothing_in_range
    assert order(found) == ["s5", "s4", "s3"]
    assert not found.results[0].in_target
    assert found.results[0].warnings == ("Outside the target by 6.0",)
    assert found.results[0].reasons[0] == "Nearest to the target 61.0 to 73.0: stability 55.0 (Medium)"
    assert why(found)["s0"] == "Stability 50.0 is 11.0 below the target 61.0 to 73.0"


def test_among_sure_shoes_the_one_nearest_the_middle_of_the_target_comes_first():
    found = match(shoes({"slug": "low", "stability": 63.0, "u": 0.1}, {"slug": "mid", "stability": 66.0}), WISH)
    assert order(found) == ["mid", "low"]


@pytest.mark.parametrize(("u", "words"), [(1e-6, "More than 99 %"), (6.0, "51 %"), (5000.0, "Less than 1 %")])
def test_probability_is_never_said_to_be_0_or_100(u, words):
    found = match(shoes({"slug": "a", "stability": 61.5, "u": u}), WISH)
    assert any(reason.startswith(f"{words} probability") for reason in found.results[0].reasons)


def test_the_limit_is_kept_and_what_it_cuts_says_so():
    found = match(shoes(*({"slug": f"s{n}"} for n in range(4))), WISH, limit=3)
    assert order(found) == ["s0", "s1", "s2"]
    assert why(found) == {"s3": "In the target, ranked 4; the list shows 3"}
    assert (
        len(match(shoes({"slug": "a", "stability": 1.0}, {"slug": "b", "stability": 2.0}), WISH, limit=1).results) == 1
    )


def test_too_stable_is_said_to_be_above():
    found = match(shoes({"slug": "a"}, {"slug": "b", "stability": 80.0}), WISH)
    assert why(found)["b"] == "Stability 80.0 is 7.0 above the target 61.0 to 73.0"


def test_a_shoe_asked_about_is_told_of_however_far_off():
    many = shoes(*({"slug": f"s{n:03}", "stability": 60.0 - n / 10} for n in range(200)))
    found = match(many, WISH, asked=["s199", "s000"])
    assert len(found.left_out) == LEFT_OUT_SHOWN
    assert "s199" in why(found)
    assert "s199" not in why(match(many, WISH))


def test_borderline_and_provisional_scores_are_warned_of():
    found = match(shoes({"slug": "a", "borderline": True, "provisional": True}), WISH)
    assert found.results[0].warnings == (
        "Borderline: its band Medium is less than 80 % certain",
        "Provisional: fewer than two specimens were tested",
    )


def test_a_shoe_no_longer_made_is_warned_of():
    assert match(shoes({"slug": "a", "discontinued": True}), WISH).results[0].warnings == ("No longer made",)


def test_no_candidates_at_all():
    found = match(shoes(), WISH)
    assert found.nothing_in_range
    assert found.results == ()
    assert found.left_out == ()


@pytest.mark.parametrize(
    ("change", "limit", "message"), [({}, 0, "limit must be >= 1, got 0"), ({"use": "flying"}, 1, "use must be one of")]
)
def test_impossible_wishes_are_refused(change, limit, message):
    with pytest.raises(ValueError, match=message):
        match(shoes({"slug": "a"}), replace(WISH, **change), limit=limit)


def test_a_score_that_is_not_finite_is_refused():
    with pytest.raises(ValueError, match="stability must be finite"):
        match(shoes({"slug": "a", "stability": np.nan}), WISH)


@given(st.lists(st.floats(0, 120), min_size=1, max_size=30), st.integers(1, 12))
def test_every_shoe_is_shown_or_has_a_reason_and_shown_ones_are_in_the_target(scores, limit):
    found = match(shoes(*({"slug": f"s{n}", "stability": score} for n, score in enumerate(scores))), WISH, limit=limit)
    shown = set(order(found))
    assert len(shown) == len(found.results) <= limit
    assert shown | set(why(found)) == {f"s{n}" for n in range(len(scores))}
    assert shown.isdisjoint(why(found))
    assert found.nothing_in_range == (not any(61 <= score <= 73 for score in scores))
    if not found.nothing_in_range:
        assert all(61 <= item.stability <= 73 for item in found.results)
