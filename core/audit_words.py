"""The audit actions of core, in words."""

from __future__ import annotations

from core.audit import register_action

register_action("core.store.created", "opened the store {subject}")
register_action("core.user.created", "made the account {subject}")
register_action("core.membership.granted", "gave a role: {subject}")
register_action("core.token.issued", "issued an API token to {subject}")
