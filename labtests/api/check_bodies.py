"""Check charts, studies, comparisons and wear series as the API says them, in SI units."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Any

from labtests.domain.studies.agreement import Agreement
from labtests.domain.studies.control_chart import Limits
from labtests.domain.studies.gauge import GaugeStudy as Analysis
from labtests.domain.studies.gauge import VarianceComponent
from labtests.domain.studies.interlab import Consistency, LabResult, Precision
from labtests.domain.studies.variance import Interval
from labtests.domain.studies.wear import WearTrend
from labtests.models import CheckAlarm, CheckDuty, GaugeStudy
from labtests.selectors.studies.check_shoes import CheckSeries, CheckStatus, Doubt
from labtests.selectors.studies.studies import StudyProgress
from labtests.selectors.studies.wear import WearPoint


def duty_body(duty: CheckDuty) -> dict[str, Any]:
    return {
        "rig": duty.rig.code,
        "specimen": duty.specimen.code,
        "since": duty.since.isoformat(),
        "designated_by": duty.designated_by.username,
        "reason": duty.reason,
        "retired_at": duty.retired_at.isoformat() if duty.retired_at else None,
        "retired_because": duty.retired_because,
    }


def check_body(
    status: CheckStatus,
    duty: CheckDuty | None,
    charts: tuple[CheckSeries, ...],
    alarms: list[CheckAlarm],
    doubt: Doubt | None,
) -> dict[str, Any]:
    rig = status.rig
    return {
        "rig": rig.code,
        "stopped": rig.is_stopped,
        "stopped_because": rig.stopped_because,
        "in_doubt_since": doubt.since.isoformat() if doubt and doubt.since else None,
        "check_shoe": duty_body(duty) if duty else None,
        "checked_today": status.is_checked_today,
        "days_without_check": [day.isoformat() for day in status.days_without],
        "charts": [_chart(series) for series in charts],
        "alarms": [_alarm(alarm) for alarm in alarms],
    }


def _chart(series: CheckSeries) -> dict[str, Any]:
    chart = series.chart
    broken: dict[int, list[str]] = {}
    for breach in chart.breaches:
        broken.setdefault(breach.index, []).append(breach.rule.value)
    return {
        "quantity": series.quantity.value,
        "in_control": chart.is_in_control,
        "points_missing": chart.points_missing,
        "limits": _limits(chart.limits),
        "points": [
            {
                "test": point.test,
                "performed": point.performed_at.isoformat(),
                "operator": point.operator,
                "value": point.value,
                "cleared": point.is_cleared,
                "rules": broken.get(place, []),
            }
            for place, point in enumerate(series.points)
        ],
    }


def _limits(limits: Limits | None) -> dict[str, Any] | None:
    return None if limits is None else dataclasses.asdict(limits)


def _alarm(alarm: CheckAlarm) -> dict[str, Any]:
    return {
        "test": alarm.test_id,
        "quantity": alarm.quantity,
        "rule": alarm.rule,
        "words": alarm.words,
        "raised_at": alarm.raised_at.isoformat(),
        "cleared_at": alarm.cleared_at.isoformat() if alarm.cleared_at else None,
        "cleared_by": alarm.cleared_by.username if alarm.cleared_by else None,
        "cleared_because": alarm.cleared_because,
    }


def study_body(study: GaugeStudy) -> dict[str, Any]:
    return {
        "id": study.pk,
        "title": study.title,
        "rig": study.rig.code,
        "trials": study.trials,
        "begins_on": study.begins_on.isoformat(),
        "ends_on": study.ends_on.isoformat() if study.ends_on else None,
        "state": "closed" if study.closed_at else "open",
        "planned_by": study.planned_by.username,
        "reason": study.reason,
    }


def study_detail_body(
    progress: StudyProgress, quantity: str, analysis: Analysis | None, problem: str
) -> dict[str, Any]:
    return study_body(progress.study) | {
        "specimens": list(progress.specimens),
        "operators": list(progress.operators),
        "wanted": progress.wanted,
        "found": progress.found,
        "complete": progress.is_complete,
        "cells": [
            {
                "specimen": cell.specimen,
                "operator": cell.operator,
                "tests": [test.test for test in cell.tests],
                "values": [test.values[quantity] for test in cell.tests],
                "missing": cell.missing,
            }
            for cell in progress.cells
        ],
        "quantity": quantity,
        "problem": problem,
        "result": _analysis(analysis) if analysis else None,
    }


def _analysis(analysis: Analysis) -> dict[str, Any]:
    components = [analysis.repeatability, analysis.reproducibility, analysis.operator]
    components += [analysis.interaction] if analysis.interaction else []
    return {
        "n": analysis.n,
        "mean": analysis.mean,
        "interaction_p": analysis.interaction_p,
        "interaction_pooled": analysis.is_pooled,
        "anova": [dataclasses.asdict(row) for row in analysis.anova],
        "components": [_component(each) for each in (analysis.grr, *components, analysis.part, analysis.total)],
        "repeatability_sd": dataclasses.asdict(analysis.repeatability_sd),
        "grr_sd": dataclasses.asdict(analysis.grr_sd),
        "study_variation_percent": _interval(analysis.study_variation_percent),
        "distinct_categories": analysis.categories,
        "distinct_categories_limits": analysis.category_limits,
        "could_find": {"operator_sd": analysis.could_find_operators, "interaction_sd": analysis.could_find_interaction},
        "verdict": analysis.verdict,
    }


def _interval(found: Interval | None) -> dict[str, Any] | None:
    return None if found is None else dataclasses.asdict(found)


def _component(component: VarianceComponent) -> dict[str, Any]:
    return dataclasses.asdict(component)


def level_body(name: str, found: Precision | None, problem: str, pairs: Sequence[Agreement]) -> dict[str, Any]:
    body = {"specimen": name, "problem": problem, "precision": None, "agreement": [_agreement(pair) for pair in pairs]}
    if found is None:
        return body
    return body | {
        "precision": {
            "n": found.n,
            "mean": found.mean,
            "repeatability_sd": found.repeatability_sd,
            "between_sd": found.between_sd,
            "between_variance_raw": found.between_variance_raw,
            "reproducibility_sd": found.reproducibility_sd,
            "repeatability_interval": _interval(found.repeatability_interval),
            "between_interval": _interval(found.between_interval),
            "reproducibility_interval": _interval(found.reproducibility_interval),
            "repeatability_limit": found.repeatability_limit,
            "reproducibility_limit": found.reproducibility_limit,
            "rigs": [_lab(lab) for lab in found.labs],
            "cochran": _consistency(found.cochran),
            "grubbs": _consistency(found.grubbs),
        },
    }


def _agreement(pair: Agreement) -> dict[str, Any]:
    return {
        "first": pair.first,
        "second": pair.second,
        "n_first": pair.n_first,
        "n_second": pair.n_second,
        "difference": pair.difference,
        "expanded_uncertainty": pair.expanded,
        "en": pair.en,
        "beyond": pair.is_beyond,
        "could_find": pair.could_find,
    }


def _lab(lab: LabResult) -> dict[str, Any]:
    return {
        "rig": lab.lab,
        "n": lab.n,
        "mean": lab.mean,
        "sd": lab.sd,
        "h": _consistency(lab.h),
        "k": _consistency(lab.k),
    }


def _consistency(found: Consistency | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "rig": found.lab,
        "statistic": found.statistic,
        "critical_5": found.critical_5,
        "critical_1": found.critical_1,
        "verdict": found.verdict.value,
        "could_find": found.could_find,
    }


def wear_body(
    specimen: str, quantity: str, points: list[WearPoint], trend: WearTrend | None, band: str | None
) -> dict[str, Any]:
    return {
        "specimen": specimen,
        "quantity": quantity,
        "points": [
            {
                "test": point.test,
                "performed": point.performed_at.isoformat(),
                "worn_km": point.worn_km,
                "rig": point.rig,
                "values": point.values,
            }
            for point in points
        ],
        "band": band,
        "trend": None if trend is None else _trend(trend, has_band=band is not None),
    }


def _trend(trend: WearTrend, *, has_band: bool) -> dict[str, Any]:
    fit, crossing = trend.fit, trend.crossing
    return {
        "n": fit.n,
        "intercept": fit.intercept,
        "slope_per_km": fit.slope,
        "slope_low": fit.slope_interval.low,
        "slope_high": fit.slope_interval.high,
        "level": fit.level,
        "residual_sd": fit.residual_sd,
        "shown": fit.is_slope_shown,
        "words": trend.words,
        "leaves_band": {
            "how": crossing.leaving.name.lower(),
            "limit": crossing.limit,
            "at_km": crossing.at_km,
            "low_km": crossing.low_km,
            "high_km": crossing.high_km,
            "words": crossing.words,
        }
        if has_band
        else None,
    }
