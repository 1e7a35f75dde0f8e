"""Typed readers of environment variables: a bad value stops the start with a message that says how to fix it."""

from __future__ import annotations

import os
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

TRUE = {"1", "true", "yes", "on"}
FALSE = {"0", "false", "no", "off"}


def text(name: str, default: str | None = None) -> str:
    """Return the variable, or the default; without a default the variable is required."""
    value = os.environ.get(name, "")
    if value:
        return value
    if default is None:
        raise ImproperlyConfigured(f"{name} is not set. Set it in the environment of the server.")
    return default


def flag(name: str, *, default: bool) -> bool:
    value = os.environ.get(name, "").strip().lower()
    if not value:
        return default
    if value in TRUE | FALSE:
        return value in TRUE
    raise ImproperlyConfigured(f"{name} must be one of 1, 0, true, false, yes, no, on, off; got {value!r}.")


def integer(name: str, default: int, *, low: int, high: int) -> int:
    value = os.environ.get(name, "").strip()
    if not value:
        return default
    try:
        number = int(value)
    except ValueError:
        number = low - 1
    if not low <= number <= high:
        raise ImproperlyConfigured(f"{name} must be a whole number from {low} to {high}; got {value!r}.")
    return number


def choice(name: str, default: str, allowed: set[str]) -> str:
    value = os.environ.get(name, "").strip().lower() or default
    if value not in allowed:
        raise ImproperlyConfigured(f"{name} must be one of {', '.join(sorted(allowed))}; got {value!r}.")
    return value


def words(name: str, default: list[str]) -> list[str]:
    """Return a comma-separated list."""
    value = os.environ.get(name, "")
    return [word.strip() for word in value.split(",") if word.strip()] if value else default


def folder(name: str, default: Path) -> Path:
    value = os.environ.get(name, "")
    return Path(value).expanduser().resolve() if value else default
