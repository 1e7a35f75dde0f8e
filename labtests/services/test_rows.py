"""From a judged test to the rows that keep it."""

from __future__ import annotations

import dataclasses
from typing import Any

from core.database.json_text import JsonText
from core.domain.coverage import limited
from labtests.domain.files.header import Conditions
from labtests.domain.scores.scoring import SCORES
from labtests.domain.uncertainty.stored_budgets import stored_budgets
from labtests.models import BenchTest, LoggedConditioning, State, Upload
from labtests.models.benchtests import POINTS
from labtests.services.bench.upload_lookups import UploadLookups
from labtests.services.judging import JudgedTest, values_by_score

Row = dict[str, Any]


def test_row(judged: JudgedTest, upload: Upload, file: tuple[str, str], lookups: UploadLookups) -> BenchTest:
    """The test itself; `file` is its name and sha256."""
    header, evaluation = judged.submitted.header, judged.evaluation
    return BenchTest(
        specimen=judged.specimen,
        rig=judged.rig,
        protocol=lookups.protocol,
        operator=judged.operator,
        upload=upload,
        file_name=file[0],
        file_sha256=file[1],
        source=judged.source,
        performed_at=header.performed,
        **_conditions(judged.conditions),
        worn_km=header.worn_km,
        mass_g=header.mass_g,
        stack_heel_mm=header.stack_heel_mm,
        stack_forefoot_mm=header.stack_forefoot_mm,
        extra=judged.submitted.extra,
        **{
            name: summary.mean if (summary := getattr(evaluation, name)) else None
            for name in ("torque_15_nm", "deflection_mm", "work_j", "energy_return")
        },
        work_is_estimated=evaluation.work_is_estimated,
        state=State.HELD if judged.reasons else State.ACCEPTED,
        reasons=[dataclasses.asdict(reason) for reason in judged.reasons],
    )


def _conditions(conditions: Conditions) -> dict[str, float]:
    return {name: getattr(conditions, name) for name in Conditions.__slots__}


_READ = ("torque_15_nm", "zero_offset_nm", "deflection_mm", "contact_mm", "work_j", "energy_return")
_UNCERTAIN = (
    *(f"{name}_{part}" for name in SCORES for part in ("u", "u_a", "u_b", "df")),
    "repeats_df",
    "setup_df",
    "correlation_rearfoot_cushioning",
)


def curve_rows(judged: JudgedTest, test: BenchTest) -> list[Row]:
    """A row for each curve, without its id."""
    return [
        {
            "test_id": test.pk,
            "kind": curve.test,
            "repeat": curve.repeat,
            "branch": curve.branch,
            "position": curve.position.astype(POINTS, copy=False).tobytes(),
            "load": curve.load.astype(POINTS, copy=False).tobytes(),
        }
        for curve in judged.submitted.curves
    ]


def reading_rows(judged: JudgedTest, test: BenchTest) -> list[Row]:
    """A row for each repeat, without its id."""
    given = {reading.repeat: _conditions(reading.conditions) for reading in judged.submitted.readings}
    return [
        {
            "test_id": test.pk,
            "repeat": repeat.number,
            **{name: getattr(repeat, name) for name in _READ},
            "conditions": given.get(repeat.number),
        }
        for repeat in judged.evaluation.repeats
    ]


def conditioning_row(judged: JudgedTest, test: BenchTest) -> LoggedConditioning | None:
    """Where the hours came from, None where they are the file's claim."""
    logged = judged.logged
    if logged is None:
        return None
    return LoggedConditioning(
        test=test,
        entry_id=logged.last.entry,
        since=logged.since,
        out_h=logged.out_h,
        claimed_h=judged.claimed_h,
    )


def result_rows(judged: JudgedTest, test: BenchTest, lookups: UploadLookups) -> list[Row]:
    """The scores of a test, without their id; nothing where it could not be scored."""
    if judged.scores is None:
        return []
    row: Row = dict.fromkeys(_UNCERTAIN) | values_by_score(judged.scores)
    row |= {
        "test_id": test.pk,
        "scoring_model_id": lookups.model.pk,
        "adoption_id": None,
        "cushioning_estimated": judged.evaluation.work_is_estimated,
        "budgets": {},
    }
    if judged.uncertainties is not None:
        for name in SCORES:
            known = judged.uncertainties.scores[name]
            row |= {f"{name}_u": known.u, f"{name}_u_a": known.type_a, f"{name}_u_b": known.type_b}
            row[f"{name}_df"] = limited(known.df)
        row |= {
            "repeats_df": limited(judged.uncertainties.repeats_df),
            "setup_df": limited(judged.uncertainties.setup_df),
        }
        row["budgets"] = JsonText.of(
            stored_budgets({name: (known.df, known.budget) for name, known in judged.uncertainties.scores.items()})
        )
        row["correlation_rearfoot_cushioning"] = judged.uncertainties.correlation_rearfoot_cushioning
    return [row]
