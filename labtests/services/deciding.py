"""One decision on several tests: each is decided and audited by itself, and each answer says what became of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from core.domain.errors import DomainError, optional_reason
from core.domain.quoting import quoted
from core.models import User
from labtests.models import BenchTest
from labtests.services.reviews import (
    bench_test_approve,
    bench_test_hold,
    bench_test_keep_on_record,
    bench_test_void,
)
from labtests.services.rights import needs

MOST_TESTS = 200
# Key of a decision: its words on a form, and the service that carries it out.
DECISIONS: dict[str, tuple[str, Callable[..., BenchTest]]] = {
    "approve": ("Approve: the tests are sound and within the protocol", bench_test_approve),
    "hold": ("Put on hold: something is odd", bench_test_hold),
    "release": ("Keep on record, marked as outside the protocol", bench_test_keep_on_record),
    "void": ("Void: the tests must not be used", bench_test_void),
}


@dataclass(frozen=True, slots=True, eq=False)
class Decided:
    """What became of one test: `code` and `message` say why nothing was done, and are empty where it was."""

    test: BenchTest
    code: str = ""
    message: str = ""

    @property
    def is_done(self) -> bool:
        return not self.code


@needs("labtests.test:review")
def bench_tests_decide(
    *, actor: User, tests: Sequence[BenchTest], decision: str, reason: str, at: dt.datetime | None = None
) -> tuple[Decided, ...]:
    """Decide on tests one after the other, each in a transaction of its own.

    A test that may not be decided on (one's own, decided by somebody else, outside the protocol) does not stop the
    others.

    Returns
    -------
    tuple of Decided
        In the order of the numbers of the tests.

    Raises
    ------
    DomainError
        400 without tests, for more than `MOST_TESTS`, for a decision that there is not or an unreadable reason.
    """
    _check_asked(tests, decision)
    optional_reason(reason)
    decide = DECISIONS[decision][1]
    found = []
    for test in sorted(tests, key=lambda one: one.pk):
        try:
            found.append(Decided(decide(actor=actor, test=test, reason=reason, at=at)))
        except DomainError as problem:
            found.append(Decided(test, problem.code, problem.message))
    return tuple(found)


def _check_asked(tests: Sequence[BenchTest], decision: str) -> None:
    if not tests:
        raise DomainError("Choose at least one test.", code="no_tests", fields={"tests": ["Choose at least one test."]})
    if len(tests) > MOST_TESTS:
        message = f"{len(tests)} tests at once; at most {MOST_TESTS} are possible. Decide on them in smaller groups."
        raise DomainError(message, code="too_many", fields={"tests": [message]})
    if decision not in DECISIONS:
        message = f"There is no decision {quoted(decision)}; use one of {', '.join(DECISIONS)}."
        raise DomainError(message, code="invalid", fields={"decision": [message]})
