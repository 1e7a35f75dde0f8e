"""Canonical JSON (one text for one value), as the audit trail hashes it, and joining such texts."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from typing import Any, Self

import orjson

_ENCODER = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def canonical(content: Any) -> str:
    """Return the canonical JSON text of a value: sorted keys, no spaces, no NaN.

    Examples
    --------
    >>> canonical({"b": 1.0, "a": None})
    '{"a":null,"b":1.0}'
    """
    return _ENCODER.encode(content)


# What orjson writes otherwise than `json`: 1e-6 and 0.00001 for 1e-06 and 1e-05.
_OTHERWISE = re.compile(rb"e-?[0-9]+(?:[],}]|$)|0\.0000")


def canonical_of_finite(content: Any) -> str:
    """Return the same text as `canonical` for a value whose floats are all finite, which the caller has to know.

    A test with its budgets takes 14 µs instead of 99; orjson writes null for nan and infinity, though.
    """
    try:
        text = orjson.dumps(content, option=orjson.OPT_SORT_KEYS)
    except TypeError:
        # Whole numbers beyond 64 bits, for example.
        return canonical(content)
    return canonical(content) if _OTHERWISE.search(text) else text.decode()


class JsonText(str):
    """Canonical JSON text. A value that goes into both a column and the trail is encoded only once."""

    __slots__ = ()

    @classmethod
    def of(cls, content: Any) -> Self:
        """Encode a value whose floats are all finite."""
        return cls(canonical_of_finite(content))


def list_text(texts: Iterable[str]) -> JsonText:
    """Return the canonical text of a list from the texts of its items."""
    return JsonText(f"[{','.join(texts)}]")


def object_text(parts: Mapping[str, Any]) -> JsonText:
    """Return the canonical text of an object; values that are `JsonText` already are inserted unchanged.

    All floats must be finite, as the trail has them: it writes those that are not as words.

    Examples
    --------
    >>> object_text({"c": 2, "b": JsonText.of({"x": []}), "a": 1})
    '{"a":1,"b":{"x":[]},"c":2}'
    """
    written: list[str] = []
    plain: dict[str, Any] = {}
    for key in sorted(parts):
        if isinstance(parts[key], JsonText):
            _write(plain, written)
            plain = {}
            written.append(f"{canonical(key)}:{parts[key]}")
        else:
            plain[key] = parts[key]
    _write(plain, written)
    return JsonText(f"{{{','.join(written)}}}")


def _write(plain: dict[str, Any], written: list[str]) -> None:
    if plain:
        written.append(canonical_of_finite(plain)[1:-1])
