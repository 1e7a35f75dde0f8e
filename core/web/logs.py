"""Log lines without secrets: anybody with a customer's signed link can open their card, or take over an account."""

from __future__ import annotations

import logging
import re

from pythonjsonlogger.json import JsonFormatter

from core.gate.context import current_origin

SIGNED_LINK = re.compile(r"(/f/|/welcome/\d+/)[^/\s?\"'<>]+")


def mask_links(text: str) -> str:
    """Return the text with the token of every signed link removed.

    Examples
    --------
    "Not Found: /f/abc:def/")
    'Not Found: /f/…/'
    """
    return SIGNED_LINK.sub(r"\1…", text)


class MaskingFormatter(logging.Formatter):
    """Formats a record, including its traceback, without the tokens of links."""

    def format(self, record: logging.LogRecord) -> str:
        return mask_links(super().format(record))


class MaskingJsonFormatter(JsonFormatter):
    """Formats a record as one line of JSON, without the tokens of links."""

    def format(self, record: logging.LogRecord) -> str:
        return mask_links(super().format(record))


class RequestIdFilter(logging.Filter):
    """Add the id of the current request to every record, empty outside one."""

    def filter(self, record: logging.LogRecord) -> bool:
        if not hasattr(record, "request_id"):
            # Django logs an answer when the request has left its context.
            request = getattr(record, "request", None)
            record.request_id = current_origin().request_id or getattr(request, "request_id", "")
        return True
