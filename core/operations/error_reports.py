"""Reports of unexpected errors to a collector of the practice's choice. They hold code, nothing about people."""

from __future__ import annotations

from typing import Any

import sentry_sdk
from django.conf import settings

from core.web.logs import mask_links


def start() -> None:
    """Send reports if ERROR_REPORT_DSN is set; call once in a serving process."""
    if not settings.ERROR_REPORT_DSN:
        return
    sentry_sdk.init(
        settings.ERROR_REPORT_DSN,
        send_default_pii=False,
        # Local variables and bodies hold names, complaints and pain scores.
        include_local_variables=False,
        max_request_body_size="never",
        max_breadcrumbs=0,
        before_send=without_people,
    )


def without_people(event: Any, hint: Any) -> Any:
    """Remove from a report what could be about a person: the request but for its method, the user, and links."""
    request = event.pop("request", None) or {}
    event["request"] = {"method": request.get("method")}
    event.pop("user", None)
    for entry in event.get("exception", {}).get("values", []):
        # The database's messages repeat the values of the row that it refuses.
        entry["value"] = mask_links(str(entry.get("value", ""))).partition("\n")[0].partition("DETAIL:")[0]
    return event
