"""The rule that a service decides for itself who may call it, with the actions of the catalogue registered."""

from __future__ import annotations

from catalogue import permissions as permissions  # registers the actions of the catalogue
from core.gate.rights import needs

__all__ = ["needs"]
