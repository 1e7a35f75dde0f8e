"""Reads of protocols and their drafts: the list, one, and what adopting a draft would hold."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Prefetch
from django.http import Http404

from catalogue.models import ScoreCard
from labtests.domain.files.header import Conditions
from labtests.domain.files.recorded_curve import RecordedCurve
from labtests.domain.scores import protocol as domain
from labtests.domain.scores.evaluation import evaluate_tests
from labtests.domain.scores.protocol import (
    CalibrationPeriod,
    Reason,
    check_calibrations,
    check_conditions,
    check_repeats,
)
from labtests.models import BenchTest, Calibration, Curve, DraftState, Protocol, ProtocolDraft, Source, State

# Newest tests that a dry run judges again: their curves are read one by one.
JUDGED = 500


@dataclass(frozen=True, slots=True, eq=False)
class ProtocolView:
    """A protocol or a draft of one; of an adopted protocol both, of the standard one `protocol` alone."""

    protocol: Protocol | None
    draft: ProtocolDraft | None

    @property
    def numbers(self) -> Protocol | ProtocolDraft:
        found = self.protocol or self.draft
        if found is None:
            raise AssertionError("a view is of a protocol or of a draft")
        return found

    @property
    def state(self) -> str:
        if self.protocol is not None:
            return "current" if self.protocol.is_current else "earlier"
        return "draft" if self.draft and self.draft.state == DraftState.OPEN else "discarded"


def protocol_list() -> list[ProtocolView]:
    """Every protocol and draft: the one in use, drafts, the others; in two queries."""
    drafts = {draft.version: draft for draft in ProtocolDraft.objects.select_related("author", "base", "adopted_by")}
    protocols = Protocol.objects.select_related("author").order_by("-created_at", "-pk")
    views = [ProtocolView(protocol, drafts.pop(protocol.version, None)) for protocol in protocols]
    views += [ProtocolView(None, draft) for draft in drafts.values()]
    order = ("current", "draft", "earlier", "discarded")
    return sorted(views, key=lambda view: order.index(view.state))


def protocol_get(version: str) -> ProtocolView:
    """Find a protocol or a draft, or answer 404."""
    protocol = Protocol.objects.select_related("author").filter(version=version).first()
    draft = ProtocolDraft.objects.select_related("author", "base", "adopted_by").filter(version=version).first()
    if protocol is None and draft is None:
        raise Http404
    return ProtocolView(protocol, draft)


@dataclass(frozen=True, slots=True, eq=False)
class WouldHold:
    """A test that a draft would hold, and why."""

    test: BenchTest
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True, eq=False)
class ProtocolDryRun:
    """What a draft would do: of the tests judged those that it would hold, and the shoes whose card would go.

    Cards made by the protocol in use leave the catalogue, for scores of two protocols are never mixed on one scale.
    """

    judged: int
    held: tuple[WouldHold, ...]
    cards: tuple[ScoreCard, ...]


def protocol_dry_run(draft: ProtocolDraft) -> ProtocolDryRun:
    """Judge the newest tests that wait or are approved by a draft. Writes nothing."""
    protocol = draft.to_domain()
    tests = BenchTest.objects.filter(state__in=[State.ACCEPTED, State.APPROVED], is_released=False)
    rows = tests.select_related("specimen__shoe", "rig", "protocol").order_by("-performed_at", "-pk")
    if protocol.target != draft.base.to_domain().target:
        rows = rows.prefetch_related(Prefetch("curves", queryset=Curve.objects.filter(branch="loading")))
    judged = list(rows.prefetch_related("readings")[:JUDGED])
    periods = _periods_of({test.rig_id for test in judged})
    shortfalls = _shortfalls(judged, protocol)
    found = ((test, (*_reasons(test, protocol, periods[test.rig_id]), *shortfalls.get(test.pk, ()))) for test in judged)
    cards = ScoreCard.objects.filter(is_current=True).select_related("shoe__brand").order_by("shoe__slug")
    return ProtocolDryRun(
        len(judged), tuple(WouldHold(test, reasons) for test, reasons in found if reasons), tuple(cards)
    )


def _periods_of(rigs: set[int]) -> dict[int, list[CalibrationPeriod]]:
    periods: dict[int, list[CalibrationPeriod]] = {rig: [] for rig in rigs}
    for found in Calibration.objects.valid().filter(rig__in=rigs):
        period = CalibrationPeriod(found.quantity, found.calibrated_on, found.due_on, found.is_signed)
        periods[found.rig_id].append(period)
    return periods


def _reasons(test: BenchTest, protocol: domain.Protocol, periods: list[CalibrationPeriod]) -> tuple[Reason, ...]:
    readings = list(test.readings.all())
    given = [Conditions(**reading.conditions) for reading in readings if reading.conditions]
    own = Conditions(**{name: getattr(test, name) for name in Conditions.__slots__})
    day = test.performed_at.date()
    return (
        *check_conditions(protocol, given or [own]),
        *check_repeats(protocol, len(readings)),
        *check_calibrations(periods, rig=test.rig.code, on=day, quantities=protocol.calibrations),
    )


def _shortfalls(tests: list[BenchTest], protocol: domain.Protocol) -> dict[int, tuple[Reason, ...]]:
    """What could not be read at another angle or load, by test."""
    elsewhere = [test for test in tests if protocol.target != test.protocol.to_domain().target]
    with_curves = [test for test in elsewhere if test.source != Source.READINGS]
    curves = [
        [RecordedCurve(curve.kind, curve.repeat, curve.branch, *curve.points()) for curve in test.curves.all()]
        for test in with_curves
    ]
    evaluations = evaluate_tests(curves, target=protocol.target)
    found = {test.pk: evaluation.reasons for test, evaluation in zip(with_curves, evaluations, strict=True)}
    alone = (Reason("readings_target", "only readings were submitted, at another angle and load"),)
    return found | {test.pk: alone for test in elsewhere if test.source == Source.READINGS}
