"""The rule that a service decides for itself who may call it, with the actions of the lab registered."""

from __future__ import annotations

from core.gate.rights import NotAllowed, needs
from labtests import permissions as permissions  # registers the actions of the lab

__all__ = ["NotAllowed", "needs"]
