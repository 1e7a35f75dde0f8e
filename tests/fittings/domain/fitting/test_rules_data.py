"""Rules survive being kept as data, and broken data is refused by name."""

import json
from dataclasses import asdict

import pytest

from fittings.domain.fitting.need import N1
from fittings.domain.fitting.rules_data import match_from_data, rules_from_data, rules_to_data
from fittings.domain.shoes.match_rules import M1


def test_rules_come_back_from_json_unchanged():
    assert rules_from_data(json.loads(json.dumps(rules_to_data(N1)))) == N1


def test_steps_are_put_highest_first():
    data = rules_to_data(N1) | {"running_mass_above_kg": [[82, 4], [95, 8]]}
    assert rules_from_data(data).running_mass_above_kg == ((95.0, 8.0), (82.0, 4.0))


@pytest.mark.parametrize(
    ("change", "error", "message"),
    [
        ({"surprise": 1}, ValueError, "differs in surprise"),
        ({"base": "45"}, TypeError, "base must be a number"),
        ({"pronation": [0, 5, 12]}, ValueError, "pronation must have points for the 4 grades, got 3"),
        ({"pronation": 5}, TypeError, "pronation must be a list"),
        ({"fpi6_at_least": [[6]]}, ValueError, "fpi6_at_least must have pairs"),
        ({"regions": ["tail"]}, ValueError, "region must be one of"),
        ({"version": "  "}, ValueError, "version must be a text"),
        ({"version": 1}, ValueError, "version must be a text"),
        ({"half_width": 0}, ValueError, "half_width must be a number from 0.5 to 50"),
        ({"half_width_per_left_out": -1}, ValueError, "half_width_per_left_out must be a number from 0 to 20"),
    ],
)
def test_broken_data_is_refused(change, error, message):
    with pytest.raises(error, match=message):
        rules_from_data(rules_to_data(N1) | change)


def test_a_missing_entry_is_named():
    data = rules_to_data(N1)
    del data["weak_hip"]
    with pytest.raises(ValueError, match="differs in weak_hip"):
        rules_from_data(data)


def test_match_rules_come_back_from_json_and_what_is_missing_is_as_in_the_first():
    assert match_from_data(json.loads(json.dumps(asdict(M1)))) == M1
    assert match_from_data({}) == M1
    assert match_from_data({"nearest_shown": 5}).nearest_shown == 5


@pytest.mark.parametrize(
    ("data", "error", "message"),
    [
        ({"surprise": 1}, ValueError, "got surprise"),
        ({"probability_step": 0}, ValueError, "probability_step must be a number from 0.01 to 0.5"),
        ({"nearest_shown": 2.5}, ValueError, "nearest_shown must be a whole number from 1 to 20"),
        ({"drop_change_warned_mm": "4"}, TypeError, "drop_change_warned_mm must be a number"),
    ],
)
def test_broken_match_rules_are_refused(data, error, message):
    with pytest.raises(error, match=message):
        match_from_data(data)
