"""Answers of the API that are marked by the revision that they come from."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpResponseBase

from catalogue import selectors
from core.database.sources import answer_from_source
from core.web.conditional import answered, program_mark

View = Callable[..., HttpResponseBase]


def api_by_revision(method: View) -> View:
    """Give the `get` of an API view its revision, and answer 304; what it says follows from address and revision."""

    @wraps(method)
    def inner(view: Any, request: Any, *args: Any, **kwargs: Any) -> HttpResponseBase:
        def read() -> HttpResponseBase:
            mark = selectors.revision()
            etag = f'"{mark.whole}-{program_mark()}"'
            return answered(request, etag, lambda: method(view, request, *args, revision=mark, **kwargs))

        return answer_from_source(request._request, read, again=lambda: None)

    return inner
