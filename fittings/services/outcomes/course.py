"""Working courses out again where the triggers can't have: after a migration, or after a change of the time zone."""

from __future__ import annotations

from collections.abc import Sequence

from django.conf import settings
from django.db import connection, transaction


@transaction.atomic
def courses_work_out(fitting_ids: Sequence[int]) -> None:
    """Write the courses of the people of these fittings as they follow from the answers. No record changes by it.

    Parameters
    ----------
    fitting_ids : those without a choice lose a course that has nothing to stand on
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT fittings_courses_refresh(%s, %s)", [list(fitting_ids), settings.TIME_ZONE])
