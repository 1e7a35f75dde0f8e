"""What a day and a set-up add to a test on a rig: from check shoes, gauge studies, or specimens tested again."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from core.domain.units import FloatArray
from labtests.domain.scores.scoring import Model
from labtests.domain.uncertainty.day_and_setup import SETUPS_WANTED, StudyReadings, excess, excess_of_study
from labtests.domain.uncertainty.reading_squares import squares_of_scatter
from labtests.domain.uncertainty.scatter import Scatter, pool_repeats
from labtests.models import BenchTest, CheckDuty, GaugeStudy, Level, Reading, VariancePool
from labtests.selectors.scores.methods import arrays_of_repeats
from labtests.selectors.studies.check_shoes import check_tests, cleared_tests
from labtests.selectors.studies.studies import StudyProgress, study_progress

# The newest tests of a check shoe that count: enough for a steady figure, quick to read.
CHECKS_READ = 300
READ = ("torque_15_nm", "deflection_mm", "work_j")


def setups_of_rigs(rigs: Iterable[int], model: Model) -> dict[int, tuple[Scatter, ...]]:
    """What is known of the days and set-ups of some rigs, by their ids; empty where nothing is.

    The check shoe's tests differ by day, set-up and operator together; where a gauge study knows the last two, the day
    is what the study leaves of it. Without either, tests of one specimen anywhere stand for both. Three queries, and
    some for each check shoe and gauge study.
    """
    wanted = sorted(rigs)
    duties: dict[int, list[CheckDuty]] = {rig: [] for rig in wanted}
    studies: dict[int, list[GaugeStudy]] = {rig: [] for rig in wanted}
    for duty in CheckDuty.objects.filter(rig__in=wanted).select_related("rig").order_by("designated_at", "pk"):
        duties[duty.rig_id].append(duty)
    for study in GaugeStudy.objects.filter(rig__in=wanted).order_by("-pk"):
        studies[study.rig_id].append(study)
    retests = _from_retests(model)
    return {
        rig: _setups(_from_checks(duties[rig], model), _from_studies(studies[rig], model), retests, model)
        for rig in wanted
    }


def _setups(
    checks: Scatter | None, study: Scatter | None, retests: tuple[Scatter, ...], model: Model
) -> tuple[Scatter, ...]:
    if checks is None and study is None:
        return retests
    if checks is None or study is None:
        return tuple(found for found in (checks, study) if found is not None)
    origin, link = "day to day, check shoe", checks.link
    day = excess(checks.covariance(), checks.df, study.covariance(), model=model, origin=origin, link=link)
    return tuple(found for found in (day, study) if found is not None)


def setup_squares(setups: Iterable[Scatter]) -> FloatArray:
    """The squares of all parts together, shape (4,)."""
    return sum((squares_of_scatter(found) for found in setups), np.zeros(4))


def setup_of_score(setups: Iterable[Scatter], weights: FloatArray) -> tuple[float, float]:
    """Variance of one score by day and set-up, points², and its degrees of freedom (inf where there is none)."""
    parts = [(max(0.0, float(weights @ squares_of_scatter(found))), found.df) for found in setups]
    total = sum(variance for variance, _ in parts)
    below = sum(variance**2 / df for variance, df in parts)
    return total, total**2 / below if below > 0.0 else np.inf


def _from_checks(duties: Iterable[CheckDuty], model: Model) -> Scatter | None:
    """Each check shoe's tests about their own mean, pooled; those of cleared alarms left out."""
    tests: list[FloatArray] = []
    measured: list[int] = []
    link = ""
    for duty in duties:
        newest = check_tests(duty).exclude(pk__in=cleared_tests(duty)).order_by("-performed_at", "-pk")[:CHECKS_READ]
        rows = list(newest.values_list("pk", *READ))
        values = np.array([row[1:] for row in rows if None not in row], dtype=float).reshape(-1, len(READ))
        if len(values) > 1:
            tests.append(values - values.mean(axis=0))
            measured += [row[0] for row in rows]
            link = f"check:{duty.rig.code}"
    df = sum(len(each) - 1 for each in tests)
    if df < SETUPS_WANTED:
        return None
    covariance = sum((each.T @ each for each in tests), np.zeros((3, 3))) / df
    return excess(
        covariance, df, _mean_covariance(measured), model=model, origin="day and set-up, check shoe", link=link
    )


def _mean_covariance(tests: Iterable[int]) -> FloatArray:
    """What repeats leave in the mean of a test; nothing where no test has two."""
    rows = Reading.objects.filter(test__in=[*tests]).values_list("test_id", *READ)
    pooled, n = pool_repeats(*arrays_of_repeats(rows))
    if pooled is None:
        return np.zeros((3, 3))
    return pooled.covariance() * n / (pooled.df + n)


def _from_studies(studies: Iterable[GaugeStudy], model: Model) -> Scatter | None:
    """Operators and set-ups, from the newest complete gauge study of a rig."""
    for study in studies:
        progress = study_progress(study)
        if progress.is_complete:
            return _of_study(progress, model)
    return None


def _of_study(progress: StudyProgress, model: Model) -> Scatter | None:
    tests = [test for cell in progress.cells for test in cell.tests]
    read = {pk: row for pk, *row in BenchTest.objects.filter(pk__in=[t.test for t in tests]).values_list("pk", *READ)}
    values = np.array([read[test.test] for test in tests], dtype=float)
    if np.isnan(values).any():
        return None
    readings = StudyReadings(tuple(test.specimen for test in tests), tuple(test.operator for test in tests), values)
    repeats = _mean_covariance(test.test for test in tests)
    return excess_of_study(readings, repeats, model=model, link=f"gauge_study:{progress.study.pk}")


def _from_retests(model: Model) -> tuple[Scatter, ...]:
    pool = VariancePool.objects.filter(level=Level.TESTS, df__gte=SETUPS_WANTED).first()
    if pool is None:
        return ()
    squares, explained = (np.array(each) / pool.df for each in (pool.squares, pool.explained))
    whole, known = _matrix(squares), _matrix(explained)
    origin = "set-up, specimens tested more than once"
    found = excess(whole, pool.df, known, model=model, origin=origin, link="components:")
    return () if found is None else (found,)


def _matrix(squares: FloatArray) -> FloatArray:
    torque, deflection, work, product = squares.tolist()
    return np.array([[torque, product, 0.0], [product, deflection, 0.0], [0.0, 0.0, work]])
