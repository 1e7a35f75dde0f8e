"""Records of the lab as the API says them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from catalogue.models import ScoreCard
from core.audit import sentence
from core.models import AuditEntry
from core.web import display
from core.web.cautions import cautions
from labtests.domain.scores.scoring import SCORES
from labtests.models import BenchTest, Result, Upload
from labtests.presentation.bench_tests import covered
from labtests.selectors.bench.conditioning import logged_of
from labtests.selectors.bench_tests import HistoryEntry, Scales, result_of
from labtests.services import Decided

CONDITIONED_BY_LOG = "computed from the conditioning log"
CONDITIONED_BY_FILE = "as claimed by the file"
# Of a held reason in the verdict of an upload from before reasons were stored with their codes.
UNKNOWN_CODE = "not_recorded"
CONDITIONS = (
    "conditioned_h",
    "temperature_c",
    "heel_clamp_n",
    "forefoot_clamp_n",
    "worn_km",
    "mass_g",
    "stack_heel_mm",
    "stack_forefoot_mm",
)


def size_words(size_eu: display.Number) -> str:
    return f"EU {display.bare_size(size_eu)}"


def upload_body(upload: Upload) -> dict[str, Any]:
    held = [_held(entry) for entry in upload.verdict["held"]]
    return {"upload": upload.pk, "sha256": upload.sha256, **upload.verdict, "held": held}


def _held(entry: dict[str, Any]) -> dict[str, Any]:
    """A held entry of a verdict; verdicts stored before codes were have none."""
    messages = entry["reasons"]
    codes = entry.get("codes") or [UNKNOWN_CODE] * len(messages)
    reasons = [{"code": code, "message": message} for code, message in zip(codes, messages, strict=True)]
    return {name: value for name, value in entry.items() if name != "codes"} | {"reasons": reasons}


def test_body(test: BenchTest, scales: Scales, history: Sequence[HistoryEntry]) -> dict[str, Any]:
    result = result_of(test)
    placement = scales.place(result) if result else None
    successor = getattr(test, "successor", None)
    return {
        "id": test.pk,
        "state": test.state,
        "outside_protocol": test.is_released,
        "shoe": test.specimen.shoe.slug,
        "specimen": test.specimen.code,
        "size": size_words(test.specimen.size_eu),
        "side": test.specimen.side,
        "rig": test.rig.code,
        "operator": test.operator.username,
        "performed": test.performed_at.isoformat(),
        "protocol": test.protocol.version,
        "submitted_as": test.source,
        "entered_by_hand": test.upload.is_by_hand,
        "conditions": {name: getattr(test, name) for name in CONDITIONS} | _conditioning(test),
        "torque_15": test.torque_15_nm,
        "deflection": test.deflection_mm,
        "work": test.work_j,
        "energy_return": test.energy_return,
        "scores": _scores(result),
        "band_probabilities": [
            {"order": entry.band.order, "name": entry.band.name, "probability": entry.probability}
            for entry in (placement.probabilities if placement else ())
        ],
        "scoring_model": result.scoring_model.version if result else None,
        "reasons": [{"code": entry["code"], "message": entry["message"]} for entry in test.reasons],
        "upload": test.upload_id,
        "amends": test.amends_id,
        "amended_by": successor.pk if successor else None,
        "history": [_history(entry) for entry in history],
    }


def _conditioning(test: BenchTest) -> dict[str, Any]:
    """Whose word the hours of conditioning are."""
    logged = logged_of(test)
    return {
        "conditioned_source": "log" if logged else "file",
        "conditioned_words": CONDITIONED_BY_LOG if logged else CONDITIONED_BY_FILE,
        "conditioned_claimed_h": logged.claimed_h if logged else test.conditioned_h,
    }


def _scores(record: Result | ScoreCard | None) -> dict[str, dict[str, Any]]:
    return {name: _score(record, name) for name in SCORES}


def _score(record: Result | ScoreCard | None, name: str) -> dict[str, Any]:
    if record is None:
        return {"value": None, **covered(None, None), "estimated": False}
    return {
        "value": getattr(record, name),
        **covered(getattr(record, f"{name}_u"), getattr(record, f"{name}_df")),
        "estimated": name == "cushioning" and record.cushioning_estimated,
    }


def _history(entry: HistoryEntry) -> dict[str, Any]:
    return {
        "at": entry.at.isoformat(),
        "actor": entry.actor,
        "action": entry.action,
        "words": entry.words,
        "reason": entry.reason,
    }


def decided_body(number: int, decided: Decided | None) -> dict[str, Any]:
    """What became of a test; None is a number that no test has."""
    if decided is None:
        words = f"There is no test {number}."
        return {"test": number, "done": False, "state": None, "code": "not_found", "detail": words}
    state, code = decided.test.state, decided.code
    return {"test": number, "done": decided.is_done, "state": state, "code": code, "detail": decided.message}


def audit_body(entry: AuditEntry) -> dict[str, Any]:
    content = entry.content
    return {
        "id": entry.pk,
        "at": entry.at.isoformat(),
        "actor": content["actor_name"],
        "action": entry.action,
        "words": sentence(entry),
        "origin": content["source"],
        "reason": content["reason"],
        "before": content["before"],
        "after": content["after"],
        "previous_hash": bytes(entry.previous_hash).hex(),
        "hash": bytes(entry.hash).hex(),
    }


def card_body(card: ScoreCard) -> dict[str, Any]:
    return {
        "shoe": card.shoe.slug,
        "scores": _scores(card),
        "band": {
            "order": card.band.order,
            "name": card.band.name,
            "probability": card.band_probability,
            "borderline": card.is_borderline,
            "neighbour": card.neighbour.name if card.neighbour else None,
            "provisional": card.is_provisional,
        },
        "specimens": card.specimens,
        "tested_on": card.tested_on.isoformat(),
        "scoring_model": card.scoring_model,
        "protocol": card.protocol,
        "published_at": card.published_at.isoformat(),
        "cautions": list(cautions("score")),
    }
