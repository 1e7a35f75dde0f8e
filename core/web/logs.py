"""Lines of the log, without what opens something: a customer's signed link is a key to their card."""

from __future__ import annotations

import logging
import re

SIGNED_LINK = re.compile(r"(/f/)[^/\s?\"'<>]+")


def discreet(text: str) -> str:
    """Return the text with the token of every customer's link left out.

    Examples
    --------
    >>> discreet("Not Found: /f/abc:def/")
    'Not Found: /f/…/'
    """
    return SIGNED_LINK.sub(r"\1…", text)


class DiscreetFormatter(logging.Formatter):
    """Formats a record, its traceback included, without tokens of links."""

    def format(self, record: logging.LogRecord) -> str:
        return discreet(super().format(record))
