"""Log lines without secrets: anybody with a customer's signed link can open their card."""

from __future__ import annotations

import logging
import re

SIGNED_LINK = re.compile(r"(/f/)[^/\s?\"'<>]+")


def mask_links(text: str) -> str:
    """Return the text with the token of every customer's link removed.

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
