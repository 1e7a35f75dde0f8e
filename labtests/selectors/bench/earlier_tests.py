"""What specimens gave in earlier tests, to compare a new one with."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from labtests.domain.scores.plausibility import LastResult
from labtests.models import BenchTest, Specimen, State


@dataclass(frozen=True, slots=True)
class EarlierTest:
    """A test that counts, with the distance worn in km (0 where not given)."""

    performed_at: dt.datetime
    worn_km: float
    result: LastResult


def earlier_tests(specimens: Iterable[Specimen]) -> dict[str, list[EarlierTest]]:
    """The tests of specimens within the protocol, void and held ones left out, oldest first; one query."""
    rows = (
        BenchTest.objects.filter(specimen__in=specimens, state__in=[State.ACCEPTED, State.APPROVED], is_released=False)
        .order_by("performed_at", "pk")
        .values_list("specimen__code", "pk", "performed_at", "worn_km", "torque_15_nm", "deflection_mm")
    )
    found: dict[str, list[EarlierTest]] = {}
    for code, pk, performed_at, worn_km, torque, deflection in rows:
        result = LastResult(pk, performed_at.date(), torque, deflection)
        found.setdefault(code, []).append(EarlierTest(performed_at, worn_km or 0.0, result))
    return found


def earlier_test_of(test: BenchTest) -> EarlierTest | None:
    """The last result of the same specimen before a test, at the same distance worn."""
    known = earlier_tests([test.specimen]).get(test.specimen.code, ())
    alike = [one for one in known if one.performed_at < test.performed_at and one.worn_km == (test.worn_km or 0.0)]
    return alike[-1] if alike else None
