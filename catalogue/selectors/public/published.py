"""When each published shoe was published last."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from catalogue.selectors.public.revision import kept_with_shoes
from catalogue.selectors.public.rows import current_cards


def published_days() -> Mapping[str, dt.datetime]:
    """Return when the scores of each shoe were published, by slug: one query."""
    return dict(current_cards().order_by().values_list("shoe__slug", "published_at"))


published_days_at = kept_with_shoes(published_days)
