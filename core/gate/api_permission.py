"""The gate for API addresses.

A module of its own, because REST framework loads its permission classes while it is itself being imported.
"""

from __future__ import annotations

from typing import Any

from rest_framework.permissions import BasePermission

from core.gate.access import allowed, declared_action, enter_scope, required_step
from core.gate.token_scopes import TokenScope, within_scope


class GatePermission(BasePermission):
    """The gate for API addresses, where the user is known only once the token has been read."""

    message = "Your role does not allow this."

    def has_permission(self, request: Any, view: Any) -> bool:
        action = declared_action(view, request.method)
        if action is None and request.method not in view.allowed_methods:
            return True  # the view has no such method and answers 405
        scope = getattr(request.auth, "scope", TokenScope.FULL)
        if action is not None and not within_scope(scope, action, request.method):
            self.message = f"This token may be used for {TokenScope(scope).label}. Create another one for this."
            return False
        if action is not None and allowed(request.user, action):
            enter_scope(request.user, action)
            return True
        step = required_step(request.user)
        if step is not None:
            self.message = f"Sign in on the website and {step.value} first."
        return False
