"""From approved tests to the published score of a shoe."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from django.db import transaction
from django.db.models import BooleanField, ExpressionWrapper

from catalogue.models import ScoreCard, Shoe
from catalogue.services import PublishedScores, score_card_publish
from core.domain.errors import DomainError
from core.models import User
from labtests.domain.scores.bands import PROVISIONAL_BELOW_SPECIMENS, Placement, place
from labtests.domain.scores.scoring import SCORES, Model, Scores
from labtests.domain.scores.shoe_scores import ShoeScore, shoe_score
from labtests.models import BenchTest, Result, ScoringModel, State
from labtests.models.check_shoes import is_of_check_shoe
from labtests.selectors.bench.conditioning_doubts import conditioning_doubts
from labtests.selectors.scores import methods
from labtests.selectors.scores.pools import pooled_by_score, pools_stored, pools_with, rig_setups, sums_of, sums_stored
from labtests.selectors.scores.rescoring import rig_refusal
from labtests.selectors.scores.shoe_parts import combined, parts_of, places_of
from labtests.selectors.studies.check_shoes import doubts_of
from labtests.services.locks import keep_model, keep_tests
from labtests.services.rights import needs
from labtests.services.scores.curves import curves_publish
from labtests.services.scores.pools import pools_refresh


@dataclass(frozen=True, slots=True, eq=False)
class ShoeProposal:
    """What publishing a shoe would say, or why it may not be: `refusals` is empty where it may."""

    shoe: Shoe
    model: ScoringModel
    tests: tuple[BenchTest, ...]
    left_out: tuple[tuple[BenchTest, str], ...]
    scores: dict[str, ShoeScore]
    placement: Placement | None
    refusals: tuple[str, ...]

    @property
    def is_provisional(self) -> bool:
        return self.specimens < PROVISIONAL_BELOW_SPECIMENS

    @property
    def specimens(self) -> int:
        return len({test.specimen_id for test in self.tests})


def shoe_proposal(*, shoe: Shoe) -> ShoeProposal:
    """Work out what would be published of a shoe now. Writes nothing."""
    model = methods.scoring_model_current()
    tests = list(
        BenchTest.objects.filter(specimen__shoe=shoe)
        .annotate(is_check=ExpressionWrapper(is_of_check_shoe(), BooleanField()))
        .select_related("specimen", "rig", "protocol")
        .order_by("specimen__code", "performed_at", "pk")
    )
    publishable = set(BenchTest.objects.filter(specimen__shoe=shoe).publishable().values_list("pk", flat=True))
    results = {result.test_id: result for result in Result.objects.filter(scoring_model=model, test__in=publishable)}
    chosen = tuple(test for test in tests if test.pk in results)
    left_out = tuple((test, why_left_out(test)) for test in tests if test.pk not in results)
    refusals = _refusals(chosen, left_out) + _refusals_of_conditioning(chosen)
    scores = _scores_of(shoe, chosen, results, model.to_domain()) if chosen else {}
    placement = None
    if scores:
        stability = scores["stability"]
        bands, guard = methods.bands_of(model.scale), model.guard_band
        placement = place(stability.value, stability.u, bands, df=stability.df, guard=guard)
    return ShoeProposal(shoe, model, chosen, left_out, scores, placement, refusals)


def why_left_out(test: BenchTest) -> str:
    """Say why a test does not count for the published score."""
    if test.state == State.APPROVED and test.is_released:
        return "on record outside the protocol"
    if test.state == State.APPROVED and getattr(test, "is_check", False):
        return "the specimen is a check shoe; its tests show how the rig measures"
    if test.state == State.APPROVED and not test.protocol.is_current:
        return f"tested by the earlier protocol {test.protocol.version}; scores of two protocols are never mixed"
    if test.state == State.APPROVED:
        is_worn = bool(test.worn_km)
        return f"the specimen was worn {test.worn_km:g} km" if is_worn else "not scored by the current model"
    return str(State(test.state).label)


def _refusals(chosen: Sequence[BenchTest], left_out: Sequence[tuple[BenchTest, str]]) -> tuple[str, ...]:
    if not chosen:
        why = [f"{test} is left out: {reason}" for test, reason in left_out]
        return ("No approved test within the protocol counts for this shoe.", *why)
    return _refusals_of_rigs(chosen)


def _refusals_of_rigs(chosen: Sequence[BenchTest]) -> tuple[str, ...]:
    """A stopped rig refuses the tests that it puts in doubt: those since the last check in control, else all."""
    doubts = doubts_of(test.rig for test in chosen)
    doubted: dict[str, list[BenchTest]] = {}
    for test in chosen:
        if test.rig_id in doubts and doubts[test.rig_id].holds(test.performed_at):
            doubted.setdefault(test.rig.code, []).append(test)
    return tuple(rig_refusal(tests[0].rig) for _, tests in sorted(doubted.items()))


def _refusals_of_conditioning(chosen: Sequence[BenchTest]) -> tuple[str, ...]:
    """Hours that the log does not bear out any more refuse the card until somebody has looked at them."""
    doubts = conditioning_doubts(BenchTest.objects.filter(pk__in=[test.pk for test in chosen]))
    return tuple(doubt.refusal for doubt in doubts.values())


def _scores_of(
    shoe: Shoe, tests: Sequence[BenchTest], results: Mapping[int, Result], model: Model
) -> dict[str, ShoeScore]:
    """The shoe's scores with the pools as they will be when its tests of now are in them."""
    columns = _columns(tests, results)
    setups = rig_setups([test.rig_id for test in tests], model)
    rows = np.arange(len(tests))
    _, specimen = np.unique(columns["specimen_id"], return_inverse=True)
    zeros = np.zeros(int(specimen.max()) + 1, dtype=np.int64)
    places = places_of(columns, rows, specimen.astype(np.int64), zeros, setups=setups, shoes=1)
    parts = parts_of(columns)
    readings = np.column_stack([columns[name] for name in _READ])
    now = sums_of(readings, parts.type_a, places, setups, model)
    pools = pools_with(pools_stored(), sums_stored([shoe.pk]), now)
    scores = Scores(**{name: columns[name] for name in SCORES})
    found = combined(scores, parts, rows, places, pooled=pooled_by_score(pools, setups, model), model=model)
    return {name: shoe_score(found[name]) for name in SCORES}


_READ = ("torque_15_nm", "deflection_mm", "work_j")
_UNCERTAIN = (*(f"{name}_{end}" for name in SCORES for end in ("u", "u_a", "u_b", "df")), "repeats_df", "setup_df")


def _columns(tests: Sequence[BenchTest], results: Mapping[int, Result]) -> dict[str, npt.NDArray[Any]]:
    """Tests with their results as `selectors.rescoring` reads those of all shoes; null becomes nan."""
    found = [results[test.pk] for test in tests]
    columns = {
        "specimen_id": np.array([test.specimen_id for test in tests], dtype=np.int64),
        "rig_id": np.array([test.rig_id for test in tests], dtype=np.int64),
        "performed_s": np.array([test.performed_at.timestamp() for test in tests]),
    }
    columns |= {name: np.array([getattr(test, name) for test in tests], dtype=float) for name in _READ}
    columns |= {
        name: np.array([getattr(result, name) for result in found], dtype=float) for name in (*SCORES, *_UNCERTAIN)
    }
    return columns


@needs("labtests.shoe:publish")
@transaction.atomic
def shoe_publish(*, actor: User, shoe: Shoe, reason: str, at: dt.datetime | None = None) -> ScoreCard:
    """Publish the mean over a shoe's approved specimens as its current score card.

    Raises
    ------
    DomainError
        409 with `fields["reasons"]` where it may not be published, 400 without a reason.
    """
    keep_model()
    # The tests stay as they are until the card is written.
    keep_tests(shoes=[shoe.pk])
    pools_refresh(shoes=[shoe.pk], at=at)
    proposal = shoe_proposal(shoe=shoe)
    if proposal.refusals:
        raise DomainError(
            " ".join(proposal.refusals), code="not_publishable", status=409, fields={"reasons": [*proposal.refusals]}
        )
    card = score_card_publish(actor=actor, shoe=shoe, scores=_published(proposal), reason=reason, at=at)
    curves_publish(shoes=[shoe.pk])
    return card


def _published(proposal: ShoeProposal) -> PublishedScores:
    placement = proposal.placement
    if placement is None:
        raise AssertionError("a proposal without refusals has a placement")
    values: dict[str, Any] = {name: proposal.scores[name].value for name in SCORES}
    values |= {f"{name}_u": proposal.scores[name].u for name in SCORES}
    values |= {f"{name}_df": proposal.scores[name].df for name in SCORES}
    return PublishedScores(
        scale=proposal.model.scale.version,
        band=placement.band.order,
        **values,
        cushioning_estimated=any(test.work_is_estimated for test in proposal.tests),
        band_probability=placement.probability,
        is_borderline=placement.is_borderline,
        neighbour=placement.neighbour.order if placement.neighbour else None,
        is_provisional=proposal.is_provisional,
        specimens=proposal.specimens,
        tested_on=max(test.performed_at for test in proposal.tests).date(),
        scoring_model=proposal.model.version,
        protocol=", ".join(sorted({test.protocol.version for test in proposal.tests})),
    )
