"""Judging submitted files: rejected with problems, or tests that are accepted or held. Writes nothing."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from catalogue.models import Shoe
from core.domain.quoting import quoted
from core.models import User
from labtests.domain.conditions.climate import check_climate, climate_of_stays
from labtests.domain.conditions.conditioning import LoggedHours, check_against_log, conditioning_from_log
from labtests.domain.curves.curves import STANDARD, Target
from labtests.domain.files.header import Conditions, Header
from labtests.domain.files.problems import MAX_PROBLEMS, Problem
from labtests.domain.files.submission import SubmittedFile, SubmittedTest
from labtests.domain.scores.consistency import check_consistency
from labtests.domain.scores.evaluation import Evaluation, evaluate_readings, evaluate_tests
from labtests.domain.scores.plausibility import (
    check_copies,
    check_jump,
    check_ranges,
    check_signs,
    check_still_there,
)
from labtests.domain.scores.protocol import Reason, check_calibrations, check_conditions, check_repeats
from labtests.domain.scores.scoring import SCORES, Scores, score
from labtests.domain.uncertainty.scatter import choose_scatter
from labtests.domain.uncertainty.uncertainty import ScoreUncertainties, UncertaintySources, uncertainties_of_tests
from labtests.models import Rig, Source, Specimen
from labtests.services.bench.upload_lookups import RigOnDay, UploadLookups
from labtests.services.effects_on_tests import effects_on_test

CLOCK_TOLERANCE = dt.timedelta(minutes=15)
ADD_OR_CORRECT = "add it there first (Shoes, “Add a shoe”) or correct its short name"


@dataclass(frozen=True, slots=True, eq=False)
class JudgedTest:
    """A test that can be stored: accepted where `reasons` is empty, held otherwise."""

    submitted: SubmittedTest
    specimen: Specimen
    rig: Rig
    operator: User
    evaluation: Evaluation
    conditions: Conditions
    reasons: tuple[Reason, ...]
    scores: Scores | None
    uncertainties: ScoreUncertainties | None
    # What the conditioning log says, and what the file claimed; the conditions hold the log's hours then.
    logged: LoggedHours | None
    claimed_h: float
    target: Target = STANDARD

    @property
    def source(self) -> str:
        return _source(self.submitted)


@dataclass(frozen=True, slots=True, eq=False)
class JudgedFile:
    """A file of an upload; either `tests` or `problems` is empty."""

    file: SubmittedFile
    tests: tuple[JudgedTest, ...] = ()
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Measured:
    """What a test gave; scores and their uncertainties are None where they cannot be known."""

    evaluation: Evaluation
    scores: Scores | None
    uncertainties: ScoreUncertainties | None


def judge_files(files: Sequence[SubmittedFile], lookups: UploadLookups) -> list[JudgedFile]:
    """Judge files, one after the other, against what the practice knows. One problem refuses the whole file."""
    measured = _measure([test for file in files for test in file.tests], lookups)
    return [_judge_file(file, lookups, measured) for file in files]


def _measure(tests: Sequence[SubmittedTest], lookups: UploadLookups) -> Iterator[_Measured]:
    """Evaluate and score tests; the curves of all are read at once, and their uncertainties worked out at once."""
    evaluations = [*_evaluations(tests, lookups.target)]
    scores = [_scores(evaluation, lookups) for evaluation in evaluations]
    sources = [
        None if scored is None else _sources(test, evaluation, lookups)
        for test, evaluation, scored in zip(tests, evaluations, scores, strict=True)
    ]
    known = [found for found in sources if found is not None]
    uncertainties = iter(uncertainties_of_tests(known, model=lookups.anchors, target=lookups.target))
    for evaluation, scored, found in zip(evaluations, scores, sources, strict=True):
        yield _Measured(evaluation, scored, None if found is None else next(uncertainties))


def _sources(submitted: SubmittedTest, evaluation: Evaluation, lookups: UploadLookups) -> UncertaintySources | None:
    """What the uncertainty of a test that is scored comes from; None where its rig is not known."""
    rig = lookups.rig(submitted.header.rig)
    if rig is None:
        return None
    on_day = lookups.rig_on(rig, submitted.header.performed.date())
    temperature_c = mean_conditions(_given_conditions(submitted)).temperature_c
    return UncertaintySources(
        evaluation,
        choose_scatter(evaluation, lookups.history(rig, _source(submitted))),
        on_day.calibrations,
        effects=effects_on_test(evaluation, on_day, lookups, temperature_c=temperature_c),
        setups=lookups.setups(rig),
    )


def _judge_file(file: SubmittedFile, lookups: UploadLookups, measured: Iterator[_Measured]) -> JudgedFile:
    if file.problems:
        return JudgedFile(file, problems=file.problems)
    problems: list[Problem] = []
    brought: set[str] = set()
    tests = []
    for submitted, found in zip(file.tests, itertools.islice(measured, len(file.tests)), strict=True):
        is_new = lookups.specimen(submitted.header.specimen) is None
        test = _judge_test(submitted, found, lookups, file=file.name, problems=problems)
        if is_new:
            brought.add(submitted.header.specimen)
        if test is not None:
            tests.append(test)
    if problems:
        lookups.forget(brought)
        return JudgedFile(file, problems=tuple(problems[:MAX_PROBLEMS]))
    return JudgedFile(file, tests=tuple(tests))


def _judge_test(
    submitted: SubmittedTest, measured: _Measured, lookups: UploadLookups, *, file: str, problems: list[Problem]
) -> JudgedTest | None:
    header = submitted.header

    def refuse(key: str, problem: str) -> None:
        problems.append(Problem(file, submitted.line_of(key), key, problem))

    shoe, rig, operator = lookups.shoe(header.shoe), lookups.rig(header.rig), lookups.operator(header.operator)
    if shoe is None:
        refuse("shoe", f"the catalogue has no shoe {quoted(header.shoe)}; {ADD_OR_CORRECT}")
    if rig is None:
        refuse("rig", f"there is no rig {quoted(header.rig)}; set it up first or correct its code")
    if operator is None:
        refuse("operator", f"{quoted(header.operator)} is not one of the lab’s staff; use the operator’s sign-in name")
    if header.performed > lookups.at + CLOCK_TOLERANCE:
        refuse("performed", f"{header.performed.isoformat()} is after the upload; correct the date or the rig’s clock")
    if shoe is None or rig is None or operator is None:
        return None
    specimen = _specimen_for(header, shoe, lookups)
    for key, words in _contradictions(header, shoe, specimen):
        refuse(key, words)
    return _judged(submitted, measured, lookups, specimen=specimen, rig=rig, operator=operator)


def _specimen_for(header: Header, shoe: Shoe, lookups: UploadLookups) -> Specimen:
    known = lookups.specimen(header.specimen)
    if known is not None:
        return known
    specimen = Specimen(code=header.specimen, shoe=shoe, size_eu=header.size_eu, side=header.side)
    lookups.take_in(specimen)
    return specimen


def _contradictions(header: Header, shoe: Shoe, specimen: Specimen) -> list[tuple[str, str]]:
    """What a header says otherwise than the record of the specimen; a shoe may be named by an earlier address."""
    given = {"shoe": shoe.slug, "size": header.size_eu, "side": header.side}
    known = {"shoe": specimen.shoe.slug, "size": specimen.size_eu, "side": specimen.side}
    return [
        (key, f"specimen {specimen.code} is on record with the {key} {known[key]}, not {given[key]}")
        for key in given
        if given[key] != known[key]
    ]


def _judged(
    submitted: SubmittedTest,
    measured: _Measured,
    lookups: UploadLookups,
    *,
    specimen: Specimen,
    rig: Rig,
    operator: User,
) -> JudgedTest:
    header, evaluation = submitted.header, measured.evaluation
    given = _given_conditions(submitted)
    claims = [item.conditioned_h for item in given]
    logged = _logged_hours(submitted, claims, lookups)
    if logged is not None:
        given = [replace(item, conditioned_h=logged.hours) for item in given]
    day = header.performed.date()
    on_day = lookups.rig_on(rig, day)
    reasons = (
        *check_conditions(lookups.limits, given),
        *(_log_reasons(logged, claims, lookups, at=header.performed) if logged is not None else ()),
        *check_calibrations(on_day.periods, rig=rig.code, on=day, quantities=lookups.limits.calibrations),
        *check_repeats(lookups.limits, len(evaluation.repeats)),
        *evaluation.reasons,
        *_odd(submitted, evaluation, lookups, specimen, on_day),
    )
    return JudgedTest(
        submitted,
        specimen,
        rig,
        operator,
        evaluation,
        mean_conditions(given),
        reasons,
        measured.scores,
        measured.uncertainties,
        logged,
        claimed_h=sum(claims) / len(claims),
        target=lookups.target,
    )


def _evaluations(tests: Sequence[SubmittedTest], target: Target) -> Iterator[Evaluation]:
    """What each test reads; the curves of all are read at once."""
    of_curves = iter(evaluate_tests([test.curves for test in tests if not test.readings], target=target))
    for test in tests:
        yield evaluate_readings(test.readings, target=target) if test.readings else next(of_curves)


def _source(submitted: SubmittedTest) -> str:
    return Source.READINGS if submitted.readings else Source.CURVES


def _odd(
    submitted: SubmittedTest, evaluation: Evaluation, lookups: UploadLookups, specimen: Specimen, on_day: RigOnDay
) -> tuple[Reason, ...]:
    """What is odd about a test although its conditions are within the protocol."""
    header, target = submitted.header, lookups.target
    return (
        *check_signs(submitted.curves, evaluation.repeats, target=target),
        *check_copies(submitted.curves),
        *check_jump(lookups.last_result(header.specimen, header.performed, header.worn_km), evaluation, target=target),
        *check_ranges(on_day.ranges, evaluation, target),
        *check_still_there(specimen.disposed_on, header.performed.date()),
        *check_consistency(evaluation, lookups.history(on_day.rig, _source(submitted)), lookups.anchors, target=target),
    )


def _log_reasons(
    logged: LoggedHours, claims: list[float], lookups: UploadLookups, *, at: dt.datetime
) -> tuple[Reason, ...]:
    """What the conditioning log and the chamber's loggers say against a test."""
    limit = lookups.limits.temperature_c
    climate = climate_of_stays(logged.stays, lookups.climate(), limit, at=at)
    return (*check_against_log(logged, claims), *check_climate(climate, limit))


def _logged_hours(submitted: SubmittedTest, claims: list[float], lookups: UploadLookups) -> LoggedHours | None:
    """Ask the conditioning log about a test; None where it does not speak of it."""
    stays = lookups.stays(submitted.header.specimen)
    if not stays:
        return None
    required = lookups.limits.conditioned_h.low or 0.0
    return conditioning_from_log(stays, at=submitted.header.performed, window_h=max(required, *claims))


def _scores(evaluation: Evaluation, lookups: UploadLookups) -> Scores | None:
    torque, deflection, work = evaluation.torque_15_nm, evaluation.deflection_mm, evaluation.work_j
    if torque is None or deflection is None or work is None:
        return None
    return score(torque.mean, deflection.mean, work.mean, model=lookups.anchors)


def _given_conditions(submitted: SubmittedTest) -> list[Conditions]:
    """The conditions of each repeat where a file has them, otherwise those of the test."""
    return [reading.conditions for reading in submitted.readings] or [submitted.header.conditions]


def mean_conditions(given: list[Conditions]) -> Conditions:
    """The conditions of a test as the mean of its repeats'; each repeat was checked by itself."""
    if len(given) == 1:
        return given[0]

    def mean(name: str) -> float:
        return float(sum(getattr(item, name) for item in given) / len(given))

    return Conditions(**{name: mean(name) for name in Conditions.__slots__})


def values_by_score(scores: Scores) -> dict[str, float]:
    return {name: float(getattr(scores, name)) for name in SCORES}
