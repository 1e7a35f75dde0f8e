"""Log lines without secrets: anybody with a customer's signed link can open their card, or take over an account."""

from __future__ import annotations

import logging
import re

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
