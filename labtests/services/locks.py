"""What must not happen at once: the model in use stays the same under those who score and publish by it."""

from __future__ import annotations

from collections.abc import Collection

from django.db import connection

from labtests.models import BenchTest

MODEL_LOCK = 7301455003


def keep_model() -> None:
    """Wait for an adoption that is under way, and hold off the next to the end of the transaction."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock_shared(%s)", [MODEL_LOCK])


def keep_tests(*, shoes: Collection[int]) -> list[int]:
    """Lock all tests of some shoes, in one order everywhere: cards rest on several. Returns their ids."""
    tests = BenchTest.objects.select_for_update(of=("self",)).filter(specimen__shoe__in=shoes)
    return list(tests.order_by("pk").values_list("pk", flat=True))


def change_model() -> None:
    """Hold off everybody who scores, publishes or reviews, and wait for those who began before."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [MODEL_LOCK])
        # Reviewers wait here: a test counts for a card, or does not, to the end of the adoption.
        cursor.execute("LOCK TABLE labtests_benchtest IN SHARE MODE")
        cursor.execute("LOCK TABLE labtests_result IN SHARE ROW EXCLUSIVE MODE")
