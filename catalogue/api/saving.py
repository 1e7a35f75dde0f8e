"""What views of the API for staff share: their own store, bodies, and answers with a shoe."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from django.db import IntegrityError
from rest_framework.exceptions import PermissionDenied
from rest_framework.request import Request
from rest_framework.response import Response

from catalogue.api.shoe_bodies import record_body
from catalogue.selectors.public.rows import shoe_by_slug
from catalogue.selectors.records.shoe_records import record_get
from core.accounts.selectors import store_for
from core.domain.errors import DomainError
from core.models import Store
from core.web.requests import actor_of
from core.web.strict import StrictSerializer


def own_store(request: Request, slug: str, action: str) -> Store:
    """Return a store of the caller; 404 for another one, 403 where the caller's role there does not hold the action."""
    store, may = store_for(actor_of(request), slug, action)
    if not may:
        raise PermissionDenied("Your role does not allow this.")
    return store


@contextmanager
def one_at_a_time() -> Iterator[None]:
    """Say so where two people added the same at the same moment; the database lets only the first one."""
    try:
        yield
    except IntegrityError as problem:
        message = "Somebody saved the same at the same moment. Read the record before you try again."
        raise DomainError(message, code="conflict", status=409) from problem


def read_body(kind: type[StrictSerializer], request: Request) -> Mapping[str, Any]:
    given = kind(data=request.data)
    given.is_valid(raise_exception=True)
    values: Mapping[str, Any] = given.validated_data
    return values


def record_answer(slug: str, status: int = 200) -> Response:
    """Answer with a shoe for staff, which no cache may keep."""
    body = record_body(record_get(slug), shoe_by_slug(slug))
    return Response(body, status=status, headers={"Cache-Control": "private, no-store"})
