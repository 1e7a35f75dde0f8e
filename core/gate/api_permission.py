"""The gate for API addresses.

Apart from `core.permissions` because REST framework reads its classes while it is itself being imported.
"""

from __future__ import annotations

from typing import Any

from rest_framework.permissions import BasePermission

from core.gate.permissions import allowed, declared_action, duty, enter_scope


class GatePermission(BasePermission):
    """The gate for API addresses, where the user is known only after the token was read."""

    message = "Your role does not allow this."

    def has_permission(self, request: Any, view: Any) -> bool:
        action = declared_action(view, request.method)
        if action is None and request.method not in view.allowed_methods:
            return True  # there is no such method here: the view answers 405
        if action is not None and allowed(request.user, action):
            enter_scope(request.user, action)
            return True
        owed = duty(request.user)
        if owed is not None:
            self.message = f"Before anything else, {owed.value} on the pages of this site."
        return False
