"""Canonical JSON (one text for one value), as the audit trail hashes it, and joining such texts."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any, Self

_ENCODER = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def canonical(content: Any) -> str:
    """Return the canonical JSON text of a value: sorted keys, no spaces, no NaN.

    Examples
    --------
    >>> canonical({"b": 1.0, "a": None})
    '{"a":null,"b":1.0}'
    """
    return _ENCODER.encode(content)


class JsonText(str):
    """Canonical JSON text. A value that goes into both a column and the trail is encoded only once."""

    __slots__ = ()

    @classmethod
    def of(cls, content: Any) -> Self:
        return cls(canonical(content))


def list_text(texts: Iterable[str]) -> JsonText:
    """Return the canonical text of a list from the texts of its items."""
    return JsonText(f"[{','.join(texts)}]")


def object_text(parts: Mapping[str, Any]) -> JsonText:
    """Return the canonical text of an object; values that are `JsonText` already are inserted unchanged.

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
        written.append(canonical(plain)[1:-1])
