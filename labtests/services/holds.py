"""Holding tests that wait for review, and lifting such a hold, where a record that they depend on changes.

What is changed is returned for the trail and not written to it: its lock comes after those of tests and rigs.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field

from core import audit
from core.audit import Change
from core.models import User
from labtests.domain.scores.protocol import Reason
from labtests.models import BenchTest, State
from labtests.services.studies.check_shoes import checks_judge_with, checks_judge_without


@dataclass(slots=True)
class Held:
    """Entries for the trail: of the tests, by whoever changed the record; and of the check charts, by the system."""

    tests: list[Change] = field(default_factory=list)
    alarms: list[Change] = field(default_factory=list)

    def record(self, actor: User | None) -> None:
        audit.record_many(self.tests, actor=actor)
        audit.record_many(self.alarms, actor=None)

    def numbers(self) -> list[int]:
        return [change.subject.pk for change in self.tests]


def hold_waiting(reasons: Mapping[int, Reason], *, because: str) -> Held:
    """Hold those of some tests that wait for review, each for its reason; those decided in the meantime are left.

    Parameters
    ----------
    reasons : by the number of the test
    because : for the trail
    """
    held = Held()
    for test in _locked([*reasons], State.ACCEPTED):
        before = audit.snapshot(test)
        held.alarms += checks_judge_without(test)
        test.state = State.HELD
        test.reasons = [*test.reasons, dataclasses.asdict(reasons[test.pk])]
        test.save(update_fields=["state", "reasons"])
        held.tests.append(Change("labtests.test.put_on_hold", test, before, because))
    return held


def lift_reasons(codes: Mapping[int, set[str]], *, because: str) -> Held:
    """Take reasons from held tests; one without any other waits for review again.

    Parameters
    ----------
    codes : of the reasons that are no longer true, by the number of the test
    because : for the trail
    """
    lifted = Held()
    for test in _locked([*codes], State.HELD):
        left = [reason for reason in test.reasons if reason["code"] not in codes[test.pk]]
        if len(left) == len(test.reasons):
            continue
        before = audit.snapshot(test)
        test.reasons = left
        test.state = State.HELD if left else State.ACCEPTED
        test.save(update_fields=["state", "reasons"])
        if not left:
            lifted.alarms += checks_judge_with(test)
        lifted.tests.append(Change("labtests.test.reason_lifted", test, before, because))
    return lifted


def _locked(numbers: list[int], state: State) -> list[BenchTest]:
    """Lock tests; of a reviewer who was faster the decision counts."""
    rows = BenchTest.objects.select_for_update(of=("self",)).filter(pk__in=numbers, state=state)
    return list(rows.select_related("specimen").order_by("pk"))
