"""Which published cards rest on tests, and what becomes of them once those tests no longer count. Writes nothing."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from django.db.models import Exists, OuterRef, QuerySet

from catalogue.models import ScoreCard
from catalogue.selectors.stock import cards_in_use
from labtests.models import BenchTest
from labtests.selectors.scores import methods
from labtests.selectors.scores.cards_now import cards_now
from labtests.selectors.scores.rescoring import (
    ScoredTests,
    ShoeChange,
    rescored_by,
    scored_tests,
    shoe_changes,
    specimens_of,
)
from labtests.selectors.studies.check_shoes import Doubt, tests_in_doubt

NONE_LEFT = "None of the tests behind its scores is still in use."


def cards_resting_on(tests: Collection[int] | QuerySet[BenchTest, Any]) -> QuerySet[ScoreCard]:
    """The cards, current and earlier ones, whose scores tests are part of: those approved when it was published."""
    counted = BenchTest.objects.publishable().filter(
        pk__in=tests, specimen__shoe=OuterRef("shoe"), reviewed_at__lte=OuterRef("published_at")
    )
    return ScoreCard.objects.filter(Exists(counted))


@dataclass(frozen=True, slots=True)
class DoubtReach:
    """What the doubt about a rig reaches: how many tests, and the published shoes that rest on them."""

    doubt: Doubt
    tests: int
    shoes: tuple[tuple[str, str], ...]


def doubt_reach(doubt: Doubt) -> DoubtReach:
    """Count the tests that a doubt reaches, and list slug and name of the published shoes: two queries."""
    tests = tests_in_doubt(doubt)
    cards = cards_resting_on(tests.order_by().values("pk")).filter(is_current=True).order_by("shoe__slug")
    lines = cards.values_list("shoe__slug", "shoe__brand__name", "shoe__name", "shoe__version")
    shoes = tuple((slug, f"{brand} {name} {version}".rstrip()) for slug, brand, name, version in lines)
    return DoubtReach(doubt, tests.count(), shoes)


@dataclass(frozen=True, slots=True)
class CardReach:
    """How far the cards that rest on a test have reached: wall cards that show them, fittings by them."""

    wall_cards: tuple[cards_in_use.HangingCard, ...]
    fittings: cards_in_use.FittingCount

    @property
    def is_far(self) -> bool:
        return bool(self.wall_cards or self.fittings.fittings)


def reach_of(test: BenchTest) -> CardReach:
    """Count whom taking a test back concerns outside the lab: three queries."""
    cards = list(cards_resting_on([test.pk]).values_list("pk", flat=True))
    return CardReach(tuple(cards_in_use.hanging_cards(cards)), cards_in_use.fittings_with(cards))


def changes_without(tests: Collection[int], *, successors: Collection[int] = ()) -> tuple[ShoeChange, ...]:
    """What becomes of the current cards that rest on some tests once those no longer count.

    A card is worked out again from the approved tests that remain. It is withdrawn (`then` is None) where none of the
    tests that it was published from remains, or where those that remain may not be published.

    Parameters
    ----------
    successors : tests that count from then on in place of them

    Notes
    -----
    The number of queries does not depend on the number of tests or shoes.
    """
    cards = dict(cards_resting_on(tests).filter(is_current=True).values_list("shoe_id", "pk"))
    if not cards:
        return ()
    model = methods.scoring_model_current()
    bands = methods.bands_of(model.scale)
    scored = _with_and_without(scored_tests(model, shoes=cards), tests, successors)
    rescored = rescored_by(model.to_domain(), scored, model.to_domain(), old_bands=bands, bands=bands)
    now = cards_now(cards)
    changes = shoe_changes(scored, rescored, bands, cards=now, specimens=specimens_of(now))
    remaining = _shoes_with_tests_left(cards.values(), tests, successors)
    return tuple(
        change if change.now.shoe_id in remaining else replace(change, then=None, refusals=(NONE_LEFT,))
        for change in changes
    )


def _with_and_without(scored: ScoredTests, tests: Collection[int], successors: Collection[int]) -> ScoredTests:
    """Count the tests as if some were void and others approved."""
    coming = set(BenchTest.objects.of_unworn_shoes().filter(pk__in=successors).values_list("pk", flat=True))
    is_gone, is_coming = (np.isin(scored["id"], np.array(list(ids), dtype=np.int64)) for ids in (tests, coming))
    scored.columns["is_publishable"] = (scored["is_publishable"] & ~is_gone) | is_coming
    return scored


def _shoes_with_tests_left(cards: Collection[int], tests: Collection[int], successors: Collection[int]) -> set[int]:
    counted = BenchTest.objects.publishable().exclude(pk__in=tests)
    left = counted.filter(specimen__shoe=OuterRef("shoe"), reviewed_at__lte=OuterRef("published_at"))
    with_left = ScoreCard.objects.filter(pk__in=cards).filter(Exists(left)).values_list("shoe_id", flat=True)
    with_successor = BenchTest.objects.filter(pk__in=successors).values_list("specimen__shoe", flat=True)
    return {*with_left, *with_successor}
