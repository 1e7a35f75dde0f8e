"""What the lab's overview and its lists show: what waits, what is held, uploads, rigs, shoes, the trail."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass

from django.db.models import Count, DateTimeField, Exists, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce
from django.http import Http404

from catalogue.models import ScoreCard, Shoe
from core.models import AuditEntry, User
from labtests.models import BenchTest, CalibratedQuantity, Calibration, Rig, StagedUpload, State, Upload
from labtests.models.rigs import calibrations_on
from labtests.models.uploads import CLIMATE
from labtests.selectors.bench_tests import Asked, bench_test_list

DUE_SOON = dt.timedelta(days=30)
SHOWN = 10
# The trail also holds what happened to people in the stores; the lab reads its own records and the catalogue's.
LAB_RECORDS = ("labtests.", "catalogue.")
# Stands for the publication of a shoe that has none: before everything.
NEVER = Value(dt.datetime(1, 1, 2, tzinfo=dt.UTC), output_field=DateTimeField())


@dataclass(frozen=True, slots=True)
class CalibrationState:
    """The state of one quantity of a rig on a day; `calibration` is its newest, None where it has none."""

    quantity: str
    calibration: Calibration | None
    state: str


@dataclass(frozen=True, slots=True)
class RigState:
    """A rig with each of its quantities."""

    rig: Rig
    quantities: tuple[CalibrationState, ...]

    @property
    def wants_attention(self) -> bool:
        return self.rig.is_stopped or any(quantity.state != "in date" for quantity in self.quantities)


@dataclass(frozen=True, slots=True)
class Counts:
    """How many tests stand where."""

    waiting: int
    held: int
    approved: int
    void: int


def counts() -> Counts:
    found = dict(BenchTest.objects.order_by().values_list("state").annotate(n=Count("pk")))
    return Counts(
        waiting=found.get(State.ACCEPTED, 0),
        held=found.get(State.HELD, 0),
        approved=found.get(State.APPROVED, 0),
        void=found.get(State.VOID, 0),
    )


def tests_waiting() -> QuerySet[BenchTest]:
    """The tests that have waited longest for a review."""
    return bench_test_list(Asked(state=State.ACCEPTED)).order_by("upload__at", "pk")[:SHOWN]


def tests_held() -> QuerySet[BenchTest]:
    return bench_test_list(Asked(state=State.HELD)).order_by("upload__at", "pk")[:SHOWN]


def upload_list() -> QuerySet[Upload]:
    return Upload.objects.select_related("by").defer("data")


def upload_get(pk: int) -> Upload:
    upload = upload_list().filter(pk=pk).first()
    if upload is None:
        raise Http404
    return upload


def upload_bytes(upload: Upload) -> bytes:
    return bytes(Upload.objects.values_list("data", flat=True).get(pk=upload.pk))


def staged_batch(batch: uuid.UUID, user: User) -> list[StagedUpload]:
    """Find the files that somebody is looking at, in the order they were chosen; others' are not there for them."""
    return list(StagedUpload.objects.filter(batch=batch, by=user).exclude(source=CLIMATE).order_by("pk"))


def staged_climate(batch: uuid.UUID, user: User) -> StagedUpload | None:
    """Find a logger's file that somebody is looking at; others' are not there for them."""
    return StagedUpload.objects.filter(batch=batch, by=user, source=CLIMATE).first()


def rig_states(day: dt.date) -> list[RigState]:
    rigs = Rig.objects.prefetch_related("calibrations")
    return [RigState(rig, tuple(_quantity_states(rig, day))) for rig in rigs]


def rig_get(code: str) -> Rig:
    rig = Rig.objects.prefetch_related("calibrations").filter(code=code).first()
    if rig is None:
        raise Http404
    return rig


def rig_state(rig: Rig, day: dt.date) -> RigState:
    return RigState(rig, tuple(_quantity_states(rig, day)))


def _quantity_states(rig: Rig, day: dt.date) -> list[CalibrationState]:
    known = [found for found in rig.calibrations.all() if not found.is_struck]
    return [_quantity_state(quantity, known, day) for quantity in CalibratedQuantity.values]


def _quantity_state(quantity: str, known: list[Calibration], day: dt.date) -> CalibrationState:
    ours = sorted(
        (found for found in known if found.quantity == quantity), key=lambda found: (found.calibrated_on, found.pk)
    )
    counting = calibrations_on(ours, day).get(quantity)
    if counting is not None and not counting.is_signed:
        return CalibrationState(quantity, counting, "unsigned")
    # One that begins later does not cover the day yet; it is used only where there is no other.
    begun = [found for found in ours if found.calibrated_on <= day and found.is_signed]
    newest = counting or next(iter([*reversed(begun), *ours]), None)
    return CalibrationState(quantity, newest, _calibration_state(newest, day))


def _calibration_state(calibration: Calibration | None, day: dt.date) -> str:
    if calibration is None or calibration.calibrated_on > day:
        return "missing"
    if calibration.due_on < day:
        return "overdue"
    return "due soon" if calibration.due_on - day <= DUE_SOON else "in date"


def shoes_tested(words: str = "") -> QuerySet[Shoe]:
    """Shoes with tests; `is_ready` where an approved test is newer than the card."""
    tests = BenchTest.objects.filter(specimen__shoe=OuterRef("pk"))
    publishable = BenchTest.objects.publishable().filter(specimen__shoe=OuterRef("pk"))
    card = ScoreCard.objects.filter(shoe=OuterRef("pk"), is_current=True)
    shoes = (
        Shoe.objects.filter(Exists(tests))
        .annotate(
            n_waiting=_count(tests.filter(state=State.ACCEPTED)),
            n_held=_count(tests.filter(state=State.HELD)),
            n_approved=_count(publishable),
            published_on=Coalesce(Subquery(card.values("published_at")[:1]), NEVER),
        )
        .annotate(is_ready=Exists(publishable.filter(reviewed_at__gt=OuterRef("published_on"))))
        .select_related("brand")
        .order_by("-is_ready", "brand__name", "name", "version")
    )
    if words:
        shoes = shoes.filter(Q(name__icontains=words) | Q(slug__icontains=words) | Q(brand__name__icontains=words))
    return shoes


def shoes_ready() -> QuerySet[Shoe]:
    """Shoes with approved tests that no card shows yet."""
    shoes: QuerySet[Shoe] = shoes_tested().filter(Q(is_ready=True))
    return shoes


def _count(tests: QuerySet[BenchTest]) -> Coalesce:
    counted = tests.order_by().values("specimen__shoe").annotate(n=Count("pk")).values("n")
    return Coalesce(Subquery(counted), 0)


def shoe_get(slug: str) -> Shoe:
    shoe = Shoe.objects.select_related("brand").filter(slug=slug).first()
    if shoe is None:
        raise Http404
    return shoe


def card_current(shoe: Shoe) -> ScoreCard | None:
    return shoe.score_cards.filter(is_current=True).select_related("band", "neighbour", "published_by").first()


@dataclass(frozen=True, slots=True)
class TrailAsked:
    """Which entries of the trail are asked for; empty asks for all."""

    who: str = ""
    action: str = ""
    record: str = ""
    number: str = ""
    since: dt.date | None = None
    until: dt.date | None = None


def trail(asked: TrailAsked) -> QuerySet[AuditEntry]:
    """Entries on the lab's and the catalogue's records, newest first."""
    ours = Q()
    for prefix in LAB_RECORDS:
        ours |= Q(object_type__startswith=prefix)
    given: dict[str, object] = {
        "actor__username": asked.who,
        "action": asked.action,
        "object_type": asked.record,
        "object_id": asked.number,
        "at__date__gte": asked.since,
        "at__date__lte": asked.until,
    }
    return AuditEntry.objects.filter(ours, **{name: value for name, value in given.items() if value})


def trail_entry(pk: int) -> AuditEntry:
    entry = trail(TrailAsked()).filter(pk=pk).first()
    if entry is None:
        raise Http404
    return entry
