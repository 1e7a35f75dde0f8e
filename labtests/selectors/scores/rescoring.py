"""All scored tests as arrays, rescored by another model, and what it means for each published shoe. Writes nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from django.db.models import Q

from core.database.array_rows import read_columns
from core.domain.coverage import limited
from core.domain.units import FloatArray, IntArray
from labtests.domain.scores.bands import PROVISIONAL_BELOW_SPECIMENS, Band
from labtests.domain.scores.places import TestPlaces
from labtests.domain.scores.rescore import (
    BandChanges,
    Placements,
    band_changes,
    band_places,
    place_all,
    rescore,
)
from labtests.domain.scores.scoring import SCORES, Model, Scores
from labtests.domain.scores.shoe_scores import ShoeScores
from labtests.domain.uncertainty.uncertainty_parts import ResultParts, convert
from labtests.models import BenchTest, Protocol, Rig, ScoringModel, Specimen, SpecimenKind
from labtests.models.check_shoes import is_of_check_shoe
from labtests.selectors.bench.conditioning_doubts import doubted_approvals
from labtests.selectors.scores.cards_now import CardNow, cards_now
from labtests.selectors.scores.pools import (
    Pools,
    RigSetups,
    pooled_by_score,
    pools_stored,
    pools_with,
    rig_setups,
    sums_of,
    sums_stored,
)
from labtests.selectors.scores.shoe_parts import combined, parts_of, places_of
from labtests.selectors.studies.check_shoes import doubts_of

_SCORED = "labtests_benchtest WHERE torque_15_nm IS NOT NULL AND deflection_mm IS NOT NULL AND work_j IS NOT NULL"
_SPECIMENS = "SELECT id FROM labtests_specimen WHERE shoe_id IN ({})"
_TESTS = {
    **{name: (name, "bigint") for name in ("id", "specimen_id", "rig_id", "protocol_id")},
    **{name: (name, "double precision") for name in ("torque_15_nm", "deflection_mm", "work_j")},
    "work_is_estimated": ("work_is_estimated", "boolean"),
    "is_publishable": (
        "state = 'approved' AND NOT is_released AND coalesce(worn_km, 0) = 0"
        " AND protocol_id = (SELECT id FROM labtests_protocol WHERE is_current)",
        "boolean",
    ),
    "performed_s": ("extract(epoch from performed_at)::float8", "double precision"),
}
_READ = ("torque_15_nm", "deflection_mm", "work_j")
_KNOWN = (
    "stability",
    *(f"{name}_{part}" for part in ("u", "u_a", "u_b", "df") for name in SCORES),
    "repeats_df",
    "setup_df",
    "correlation_rearfoot_cushioning",
)
_RESULTS = {"test_id": ("test_id", "bigint"), **{name: (name, "double precision") for name in _KNOWN}}


@dataclass(frozen=True, slots=True, eq=False)
class ScoredTests:
    """Every test with a result by one model, by id; arrays of shape (n,), nan where unknown."""

    columns: dict[str, npt.NDArray[Any]]
    stability: FloatArray
    parts: ResultParts
    correlation: FloatArray

    def __len__(self) -> int:
        return len(self.stability)

    def __getitem__(self, name: str) -> npt.NDArray[Any]:
        return self.columns[name]


@dataclass(frozen=True, slots=True, eq=False)
class Rescored:
    """The tests by another model."""

    model: Model
    scores: Scores
    parts: ResultParts
    changes: BandChanges


@dataclass(frozen=True, slots=True)
class CardThen:
    """What a shoe's card would say by another model; `neighbour` is an order on the scale.

    u is None where unknown, df where unlimited.
    """

    values: dict[str, float]
    u: dict[str, float | None]
    df: dict[str, float | None]
    band: int
    band_name: str
    probability: float | None
    is_borderline: bool
    neighbour: int | None
    specimens: int
    is_provisional: bool
    is_estimated: bool
    tested_on: dt.date
    protocol: str


@dataclass(frozen=True, slots=True)
class ShoeChange:
    """A published shoe before and after; `then` is None where it gets no card, for `refusals`."""

    now: CardNow
    then: CardThen | None
    refusals: tuple[str, ...]

    @property
    def changes_band(self) -> bool:
        return self.then is not None and (self.now.band, self.now.band_name) != (self.then.band, self.then.band_name)

    @property
    def rests_on_more(self) -> bool:
        """Whether the card would rest on other specimens than the present one."""
        return self.then is not None and self.then.specimens != self.now.specimens

    @property
    def difference(self) -> float | None:
        return None if self.then is None else self.then.values["stability"] - self.now.stability


@dataclass(frozen=True, slots=True, eq=False)
class DryRun:
    """What adopting a model would do."""

    tests: ScoredTests
    rescored: Rescored
    old_bands: tuple[Band, ...]
    new_bands: tuple[Band, ...]
    shoes: tuple[ShoeChange, ...]

    @property
    def changing(self) -> tuple[ShoeChange, ...]:
        return tuple(shoe for shoe in self.shoes if shoe.changes_band)

    @property
    def refused(self) -> tuple[ShoeChange, ...]:
        return tuple(shoe for shoe in self.shoes if shoe.then is None)


def scored_tests(model: ScoringModel, *, shoes: Collection[int] | None = None) -> ScoredTests:
    """Read every test that has a result by a model, or only those of some shoes: three queries, however many."""
    of_shoes = "" if shoes is None else f" AND specimen_id IN ({_SPECIMENS.format(_numbers(shoes))})"
    tests = _sorted(read_columns(_SCORED + of_shoes, _TESTS), "id")
    tests["is_publishable"] &= ~np.isin(tests["id"], _tests_of_check_shoes())
    of_tests = "" if shoes is None else f" AND test_id IN ({_numbers(tests['id'].tolist())})"
    by_model = f"labtests_result WHERE scoring_model_id = {int(model.pk)}{of_tests}"
    results = _sorted(read_columns(by_model, _RESULTS), "test_id")
    _, in_tests, in_results = np.intersect1d(tests["id"], results["test_id"], assume_unique=True, return_indices=True)
    tests = _taken(tests, in_tests)
    results = _taken(results, in_results)
    return ScoredTests(
        columns=tests,
        stability=results["stability"],
        parts=parts_of(results),
        correlation=results["correlation_rearfoot_cushioning"],
    )


def _tests_of_check_shoes() -> IntArray:
    """Ask the few specimens that ever were on duty for their tests, not each test for its specimen."""
    specimens = Specimen.objects.filter(Q(kind=SpecimenKind.CHECK) | Q(check_duties__isnull=False))
    numbers = [*specimens.order_by().values_list("pk", flat=True).distinct()]
    tests = BenchTest.objects.filter(is_of_check_shoe(), specimen__in=numbers)
    return np.array(list(tests.order_by().values_list("pk", flat=True)), dtype=np.int64)


def _numbers(values: Iterable[int]) -> str:
    """Write numbers as a list in SQL; one that matches nothing where there are none."""
    return ", ".join(str(int(value)) for value in values) or "NULL"


def _sorted(columns: dict[str, npt.NDArray[Any]], key: str) -> dict[str, npt.NDArray[Any]]:
    """The rows by a key; they mostly lie so already."""
    keys = columns[key]
    return columns if (keys[1:] > keys[:-1]).all() else _taken(columns, np.argsort(keys, kind="stable"))


def _taken(columns: dict[str, npt.NDArray[Any]], places: IntArray) -> dict[str, npt.NDArray[Any]]:
    is_whole = len(places) == len(next(iter(columns.values()))) and (np.diff(places) == 1).all()
    return columns if is_whole else {name: values[places] for name, values in columns.items()}


def dry_run(current: ScoringModel, old_bands: Sequence[Band], *, model: Model, bands: Sequence[Band]) -> DryRun:
    """Work out what a model with its scale would say of all tests and all published shoes.

    Parameters
    ----------
    current : the model in use, whose results hold the uncertainties
    old_bands, bands : the scale in use and the new one
    """
    tests = scored_tests(current)
    rescored = rescored_by(model, tests, current.to_domain(), old_bands=old_bands, bands=bands)
    cards = cards_now()
    shoes = shoe_changes(tests, rescored, tuple(bands), cards=cards, specimens=specimens_of(cards))
    return DryRun(tests, rescored, tuple(old_bands), tuple(bands), shoes)


def rescored_by(
    model: Model, tests: ScoredTests, old: Model, *, old_bands: Sequence[Band], bands: Sequence[Band]
) -> Rescored:
    """Score tests by a model; their uncertainties are converted from those under the model that scored them."""
    scores, places = rescore(tests["torque_15_nm"], tests["deflection_mm"], tests["work_j"], model=model, bands=bands)
    parts = convert(tests.parts, old=old, new=model)
    before = band_places(tests.stability, old_bands)
    changes = band_changes(before, places, old=tuple(old_bands), new=tuple(bands))
    return Rescored(model, scores, parts, changes)


@dataclass(frozen=True, slots=True, eq=False)
class _Counted:
    """The tests that count for published shoes: their rows among all, and their places among specimens and shoes."""

    rows: IntArray
    places: TestPlaces
    setups: RigSetups

    @property
    def shoe(self) -> IntArray:
        return self.places.shoe

    @property
    def shoes(self) -> int:
        return self.places.shoes


@dataclass(frozen=True, slots=True, eq=False)
class SpecimensOfCards:
    """The specimens of published shoes: their ids, rising, and which of the cards each belongs to."""

    ids: IntArray
    card: IntArray


def specimens_of(cards: Sequence[CardNow]) -> SpecimensOfCards:
    places = {card.shoe_id: place for place, card in enumerate(cards)}
    rows = Specimen.objects.filter(shoe__in=places).order_by("pk").values_list("pk", "shoe_id")
    ids, shoes = np.array(list(rows), dtype=np.int64).reshape(-1, 2).T
    return SpecimensOfCards(ids, np.array([places[shoe] for shoe in shoes.tolist()], dtype=np.int64))


def _counted(tests: ScoredTests, specimens: SpecimensOfCards, shoes: int, model: Model) -> _Counted:
    at = np.searchsorted(specimens.ids, tests["specimen_id"])
    is_ours = np.zeros(len(tests), dtype=np.bool_)
    if len(specimens.ids):
        is_ours = specimens.ids[np.minimum(at, len(specimens.ids) - 1)] == tests["specimen_id"]
    rows = np.flatnonzero(is_ours & tests["is_publishable"])
    setups = rig_setups(np.unique(tests["rig_id"][rows]).tolist(), model)
    return _Counted(rows, places_of(tests.columns, rows, at[rows], specimens.card, setups=setups, shoes=shoes), setups)


def shoe_changes(
    tests: ScoredTests,
    rescored: Rescored,
    bands: tuple[Band, ...],
    *,
    cards: Sequence[CardNow],
    specimens: SpecimensOfCards,
) -> tuple[ShoeChange, ...]:
    """What the rescored tests make of each card."""
    counted = _counted(tests, specimens, len(cards), rescored.model)
    pooled = pooled_by_score(_pools(tests, rescored, counted, cards), counted.setups, rescored.model)
    scores = combined(
        rescored.scores, rescored.parts, counted.rows, counted.places, pooled=pooled, model=rescored.model
    )
    stability = scores["stability"]
    placed = place_all(stability.value, stability.u, bands, df=stability.df, guard=rescored.model.guard_band)
    facts = _facts(tests, counted)
    changes = []
    for place, card in enumerate(cards):
        refusals = _refusals(int(scores["stability"].specimens[place]), facts.refusals[place])
        then = None if refusals else _card_then(place, scores, placed, facts, bands)
        changes.append(ShoeChange(card, then, refusals))
    return tuple(changes)


def _pools(tests: ScoredTests, rescored: Rescored, counted: _Counted, cards: Sequence[CardNow]) -> Pools:
    """The pools as they will be when the cards rest on the tests that count."""
    readings = np.column_stack([tests[name][counted.rows] for name in _READ])
    type_a = rescored.parts.type_a.taken(counted.rows)
    now = sums_of(readings, type_a, counted.places, counted.setups, rescored.model)
    return pools_with(pools_stored(), sums_stored([card.shoe_id for card in cards]), now)


@dataclass(frozen=True, slots=True, eq=False)
class _Facts:
    """What a card says beside its scores, by shoe."""

    estimated: npt.NDArray[np.bool_]
    last_s: FloatArray
    protocols: list[str]
    refusals: list[list[str]]


def _facts(tests: ScoredTests, counted: _Counted) -> _Facts:
    estimated = np.bincount(counted.shoe, tests["work_is_estimated"][counted.rows], counted.shoes) > 0
    last_s = np.full(counted.shoes, -np.inf)
    np.maximum.at(last_s, counted.shoe, tests["performed_s"][counted.rows])
    protocols = _by_shoe(counted, tests["protocol_id"], dict(Protocol.objects.values_list("pk", "version")))
    reasons = zip(_stopped(tests, counted), _doubted(tests, counted), strict=True)
    return _Facts(
        estimated, last_s, [", ".join(found) for found in protocols], [rigs + doubts for rigs, doubts in reasons]
    )


def _stopped(tests: ScoredTests, counted: _Counted) -> list[list[str]]:
    """For each shoe the stopped rigs that put its tests in doubt, in words."""
    found: list[list[str]] = [[] for _ in range(counted.shoes)]
    rig_ids, performed_s = tests["rig_id"][counted.rows], tests["performed_s"][counted.rows]
    doubts = doubts_of(Rig.objects.filter(is_stopped=True).order_by("code"))
    for doubt in doubts.values():
        is_doubted = rig_ids == doubt.rig.pk
        if doubt.since is not None:
            is_doubted &= performed_s > doubt.since.timestamp()
        for shoe in np.unique(counted.shoe[is_doubted]).tolist():
            found[shoe].append(rig_refusal(doubt.rig))
    return found


def _doubted(tests: ScoredTests, counted: _Counted) -> list[list[str]]:
    """For each shoe its tests whose hours of conditioning the log does not bear out, in words."""
    found: list[list[str]] = [[] for _ in range(counted.shoes)]
    shoe_by_test = None
    for doubt in doubted_approvals():
        if shoe_by_test is None:
            shoe_by_test = dict(zip(tests["id"][counted.rows].tolist(), counted.shoe.tolist(), strict=True))
        if doubt.test.pk in shoe_by_test:
            found[shoe_by_test[doubt.test.pk]].append(doubt.refusal)
    return found


def rig_refusal(rig: Rig) -> str:
    """Why what was measured on a stopped rig is not published."""
    return f"Rig {rig.code} is stopped ({rig.stopped_because.rstrip('.')}); a reviewer has to clear it first."


def _by_shoe(counted: _Counted, ids: IntArray, words: dict[int, str]) -> list[tuple[str, ...]]:
    """The words of what a shoe's tests refer to, each once and sorted."""
    known = np.array(sorted(words), dtype=np.int64)
    found: list[set[str]] = [set() for _ in range(counted.shoes)]
    if len(known):
        at = np.searchsorted(known, ids[counted.rows])
        at[at == len(known)] = 0
        is_known = known[at] == ids[counted.rows]
        for pair in np.unique(counted.shoe[is_known] * len(known) + at[is_known]).tolist():
            found[pair // len(known)].add(words[int(known[pair % len(known)])])
    return [tuple(sorted(each)) for each in found]


def _refusals(specimens: int, refusals: Sequence[str]) -> tuple[str, ...]:
    return tuple(refusals) if specimens else ("This shoe no longer has an approved test within the protocol.",)


def _card_then(
    place: int, scores: dict[str, ShoeScores], placed: Placements, facts: _Facts, bands: tuple[Band, ...]
) -> CardThen:
    band = bands[placed.band[place]]
    neighbour = int(placed.neighbour[place])
    specimens = int(scores["stability"].specimens[place])
    return CardThen(
        values={name: float(found.value[place]) for name, found in scores.items()},
        u={name: _known(found.u[place]) for name, found in scores.items()},
        df={name: limited(float(found.df[place])) for name, found in scores.items()},
        band=band.order,
        band_name=band.name,
        probability=_known(placed.probability[place]),
        is_borderline=bool(placed.is_borderline[place]),
        neighbour=bands[neighbour].order if neighbour >= 0 else None,
        specimens=specimens,
        is_provisional=specimens < PROVISIONAL_BELOW_SPECIMENS,
        is_estimated=bool(facts.estimated[place]),
        tested_on=dt.datetime.fromtimestamp(float(facts.last_s[place]), dt.UTC).date(),
        protocol=facts.protocols[place],
    )


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
