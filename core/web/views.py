"""Pages that belong to no app: sign-out, home, the switch of units, API schema, errors."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Any

from django.contrib.auth.views import LogoutView
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import redirect, render, resolve_url
from django.views.decorators.http import require_GET, require_POST
from drf_spectacular.settings import spectacular_settings
from drf_spectacular.utils import extend_schema
from drf_spectacular.views import SpectacularAPIView
from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request

from core.gate.access import HOMES, PUBLIC, SIGNED_IN, gate
from core.gate.api_permission import GatePermission
from core.gate.context import UNIT_SYSTEMS, UNITS_COOKIE, wanted_address

sign_out = gate(SIGNED_IN)(LogoutView.as_view())


@gate(SIGNED_IN)
@require_GET
def home(request: HttpRequest) -> HttpResponse:
    roles = request.user.roles() if request.user.is_authenticated else set()
    return redirect(next((name for role, name in HOMES if role in roles), "catalogue:shoe-list"))


@gate(PUBLIC)
@require_POST
def units_set(request: HttpRequest) -> HttpResponse:
    """Store the reader's choice of units in a cookie and return to the page."""
    wanted = request.POST.get("units", "")
    response = HttpResponseRedirect(wanted_address(request) or resolve_url("catalogue:shoe-list"))
    if wanted in UNIT_SYSTEMS:
        response.set_cookie(UNITS_COOKIE, wanted, max_age=365 * 86_400, samesite="Lax")
    return response


class FormatByKey(DefaultContentNegotiation):
    """Let `?format=json` choose the form of an answer; everywhere else it is an unknown query key."""

    def select_renderer(
        self, request: Request, renderers: Iterable[BaseRenderer], format_suffix: str | None = None
    ) -> tuple[BaseRenderer, str]:
        asked = request.query_params.get("format") or format_suffix
        chosen: tuple[BaseRenderer, str] = super().select_renderer(request, renderers, asked)
        return chosen


class SchemaView(SpectacularAPIView):
    """The API schema as OpenAPI 3, in YAML or, by `?format=json`, in JSON."""

    content_negotiation_class = FormatByKey

    permission = PUBLIC
    permission_classes = (GatePermission,)
    authentication_classes = ()

    @extend_schema(exclude=True)
    def get(self, request: Request, *args: Any, **kwargs: Any) -> HttpResponse:
        renderer: Any = request.accepted_renderer
        name = f'inline; filename="{spectacular_settings.TITLE}.{renderer.format}"'
        return HttpResponse(
            schema_text(renderer.format), content_type=renderer.media_type, headers={"Content-Disposition": name}
        )


@cache
def schema_text(form: str) -> bytes:
    """Return the schema in the form of a renderer: seconds of work, for what does not change while a process lives."""
    renderer: Any = next(each for each in SchemaView.renderer_classes if each.format == form)
    generator: Any = SchemaView.generator_class()
    text: bytes = renderer().render(generator.get_schema(request=None, public=True), renderer_context={})
    return text


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _error(request, 400, "The request could not be read.")


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _error(request, 403, str(exception) or "Your role does not allow this.")


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _error(request, 404, "This page does not exist, or you have no access to it.")


def method_not_allowed(request: HttpRequest, accepted: str) -> HttpResponse:
    """Say which methods an address takes; `accepted` is the header Allow."""
    message = f"This address takes {accepted} only. Go back to the page with the form."
    response = _error(request, 405, message)
    response.headers["Allow"] = accepted
    response.headers["Cache-Control"] = "no-store"
    return response


def server_error(request: HttpRequest) -> HttpResponse:
    return _error(request, 500, "Something failed on our side. Nothing was partly saved.")


def _error(request: HttpRequest, status: int, message: str) -> HttpResponse:
    if request.path.startswith("/api/"):
        return JsonResponse({"detail": message, "code": f"http_{status}", "fields": {}}, status=status)
    context: dict[str, Any] = {"message": message, "status": status}
    return render(request, f"{status}.html", context, status=status)
