"""Answering "nothing has changed" before anything is read or drawn."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import cache
from typing import Any

from django.conf import settings
from django.http import HttpResponseBase
from django.utils.cache import get_conditional_response, patch_cache_control

_DRAWN_BY = ("templates", "catalogue", "core")


@cache  # the files of a running process do not change, and reading them takes longer than answering
def program_mark() -> str:
    """Return a mark of the programs and templates behind the public pages: a new version of them is a change."""
    folders = [settings.BASE_DIR / name for name in _DRAWN_BY]
    files = sorted(
        path for folder in folders for path in folder.rglob("*") if path.suffix in (".html", ".py", ".css", ".js")
    )
    digest = hashlib.sha256()
    for path in files:
        digest.update(path.read_bytes())
    return digest.hexdigest()[:12]


def answered(request: Any, etag: str | None, call: Callable[[], HttpResponseBase]) -> HttpResponseBase:
    """Answer 304 where the reader has this version already, else what `call` answers, with its mark."""
    known = get_conditional_response(request, etag=etag) if etag else None
    response: HttpResponseBase = call() if known is None else known
    if etag and response.status_code in (200, 304):
        response.headers["ETag"] = etag
        # Stored, but asked about each time: a shoe that was withdrawn is gone at once.
        patch_cache_control(response, no_cache=True)
    return response
