"""Degrees and millimetres of two fitters: pairs, page, file, and what is hidden."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re

import numpy as np
import pytest
from django.utils import timezone

from core.domain.errors import DomainError
from fittings.domain.fitting.intake import FootIntake
from fittings.domain.outcomes.reliability import reliability
from fittings.models import SecondObservation
from fittings.presentation.outcomes.measured_agreement import MEASURED_COLUMNS, PUBLISHED
from fittings.selectors.outcomes.courses import OutcomeFilter
from fittings.selectors.outcomes.measured_agreement import MEASURES, measured_agreements
from fittings.services.fitting.second_look import second_observation_record

DROPS = [
    (6.0, 7.5),
    (8.0, 8.5),
    (4.5, 5.0),
    (11.0, 10.0),
    (9.0, 10.5),
    (7.0, 7.0),
    (5.0, 6.5),
    (12.0, 13.0),
    (3.0, 4.5),
]
DROPS += [(10.0, 11.5), (6.5, 6.5), (8.5, 9.5)]


@pytest.fixture
def measured(cast, make_fitting):
    """Twelve people measured twice, half of them on the right foot alone."""

    def make(drops=DROPS):
        at = timezone.now() - dt.timedelta(weeks=45)
        for number, (first, second) in enumerate(drops):
            one, other = FootIntake(navicular_drop_mm=first), FootIntake(navicular_drop_mm=second)
            feet = (one, FootIntake()) if number % 2 else (FootIntake(), one)
            again = (other, FootIntake()) if number % 2 else (FootIntake(pronation=1), other)
            fitting = make_fitting(at=at, name=f"Person {number}", email="", left=feet[0], right=feet[1])
            second_observation_record(actor=cast.manager_a, fitting=fitting, left=again[0], right=again[1])

    return make


def test_each_person_counts_with_one_foot(cast, measured, django_assert_num_queries):
    measured()
    with django_assert_num_queries(2):
        found = {item.name: item for item in measured_agreements(OutcomeFilter((cast.store_a.pk,)))}
    drop = found["navicular_drop_mm"]
    assert list(found) == [name for name, _, _ in MEASURES]
    assert drop.n == 12
    assert drop.found.sem_agreement.value == pytest.approx(reliability(DROPS).sem_agreement.value)
    assert (found["length_mm"].n, found["length_mm"].found) == (0, None)


def test_page_says_n_interval_and_a_plain_sentence(cast, sign_in, measured):
    measured()
    page = re.sub(r"\s+", " ", sign_in(cast.manager_a).get("/outcomes/agreement/").content.decode())
    found = reliability(DROPS)
    assert f"mostly differ by less than {found.mdc_agreement:.1f} mm" in page
    assert f"the second measures {found.shift.value:.1f} mm more" in page
    assert f"{found.two_way.value:.2f} ({found.two_way.low:.2f} to {found.two_way.high:.2f})" in page
    assert "How it is worked out: Navicular drop" in page
    assert "too few to say" in page
    for _, figures, where in PUBLISHED:
        assert figures in page
        assert where.replace("&", "&amp;") in page


def test_file_has_all_figures(cast, sign_in, measured):
    measured()
    text = sign_in(cast.manager_a).get("/outcomes/agreement/?as=measured-csv").getvalue().decode()
    (line,) = csv.DictReader(io.StringIO(text))
    assert list(line) == list(MEASURED_COLUMNS)
    found = reliability(DROPS)
    assert (line["measure"], line["unit"], line["n"]) == ("Navicular drop", "mm", "12")
    assert float(line["icc_2_1"]) == pytest.approx(found.two_way.value)
    assert float(line["mdc95_agreement"]) == pytest.approx(found.mdc_agreement)


def test_all_stores_show_rounded_figures_and_none_of_few(cast, sign_in, measured, without_noise):
    measured()
    text = sign_in(cast.office).get("/outcomes/agreement/?as=measured-csv").getvalue().decode()
    (line,) = csv.DictReader(io.StringIO(text))
    assert line["mdc95_agreement"] == f"{reliability(DROPS).mdc_agreement:.2f}"
    page = sign_in(cast.office).get("/outcomes/agreement/").content.decode()
    assert "too few to say" in page
    assert "hidden" in page


def test_nine_people_are_too_few(cast, measured):
    measured(DROPS[:9])
    drop = measured_agreements(OutcomeFilter((cast.store_a.pk,)))[3]
    assert (drop.n, drop.found) == (9, None)


@pytest.mark.parametrize("value", [-31.0, 61.0, float("nan")])
def test_measures_out_of_range_are_refused_by_name(cast, make_fitting, value):
    with pytest.raises(DomainError) as refused:
        second_observation_record(
            actor=cast.manager_a, fitting=make_fitting(), left=FootIntake(navicular_drop_mm=value), right=FootIntake()
        )
    assert "left.navicular_drop_mm" in refused.value.fields
    assert not SecondObservation.objects.exists()


def test_page_takes_measures_and_shows_what_is_wrong(cast, sign_in, make_fitting):
    fitting, client = make_fitting(), sign_in(cast.manager_a)
    address = f"/fittings/{fitting.pk}/second-look/"
    bad = client.post(address, {"left-length_mm": "4000", "right-width_mm": "101.5"})
    assert bad.status_code == 400
    assert bad.context["left"].errors["length_mm"]
    assert bad.context["right"]["width_mm"].value() == "101.5"
    assert client.post(address, {"left-length_mm": "265.5", "left-rearfoot_eversion_deg": "7.5"}).status_code == 302
    left = SecondObservation.objects.get(foot="left")
    assert (left.length_mm, left.rearfoot_eversion_deg, left.pronation) == (265.5, 7.5, None)
    assert np.isfinite(left.length_mm)
