"""The system in which a reader sees sizes: chosen by a key of the address, remembered in a cookie."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBase

from catalogue.domain.sizes import EU, READER_SYSTEMS

SIZES = "sizes"
"""The key of the address and the name of the cookie."""

_YEAR_SECONDS = 365 * 86_400


def _chosen(request: HttpRequest) -> str:
    """Return the system that the address names, "" where it names none or one that there is not."""
    wanted = request.GET.get(SIZES, "")
    return wanted if wanted in READER_SYSTEMS else ""


def size_system_of(request: HttpRequest) -> str:
    held = request.COOKIES.get(SIZES, "")
    return _chosen(request) or (held if held in READER_SYSTEMS else EU)


def remember_size_system(request: HttpRequest, response: HttpResponseBase) -> None:
    """Write the choice into the reader's cookie, where the address has just made one."""
    chosen = _chosen(request)
    if chosen and chosen != request.COOKIES.get(SIZES):
        response.set_cookie(SIZES, chosen, max_age=_YEAR_SECONDS, samesite="Lax")
