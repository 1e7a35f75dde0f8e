"""The text of a specimen's label: an address that holds the practice and the code of the specimen."""

from __future__ import annotations

import re
from dataclasses import dataclass
from urllib.parse import unquote, urlsplit

# The path of a label's address; pages have it too, so that any camera opens a label.
PATH = re.compile(r"/lab/labels/([0-9a-f]{12})/([^/]+)/?\Z")


@dataclass(frozen=True, slots=True)
class LabelText:
    """What a label says: the code of a specimen, and the practice and host of its address where it is one."""

    code: str
    practice: str = ""
    host: str = ""


def read_label(text: str) -> LabelText:
    """Read what was scanned or typed.

    Parameters
    ----------
    text : str
        The address on a label, or the code of a specimen by itself.

    Returns
    -------
    LabelText
        With an empty `practice` for a code and for an address that is not one of a label; the latter has an empty
        `code` too.

    Examples
    --------
    >>> read_label("https://lab.example/lab/labels/0123456789ab/F2-01/")
    LabelText(code='F2-01', practice='0123456789ab', host='lab.example')
    >>> read_label(" F2-01 ")
    LabelText(code='F2-01', practice='', host='')
    """
    text = text.strip()
    if "/" not in text:
        return LabelText(text)
    try:
        address = urlsplit(text)
        host = address.hostname or ""
    except ValueError:
        return LabelText("")
    found = PATH.search(address.path)
    return LabelText("", host=host) if found is None else LabelText(unquote(found[2]), found[1], host)
