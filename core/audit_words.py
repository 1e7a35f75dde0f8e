"""The audited records of core and the sentences of its audit actions."""

from __future__ import annotations

from core.audit import Part, register_action, register_record
from core.models import AccountRequest, Membership, Store, User

register_record(Store)
register_record(Membership)
register_record(AccountRequest, decisions=("asked", "decided"))
# A password hash must not remain in a trail that nobody can erase, and signing in is not a change to the account.
register_record(
    User,
    exclude=("last_login",),
    private=("password", "email"),
    parts=(Part("totpdevice", columns=frozenset({"key"}), where={"confirmed": True}),),
)

register_action("core.store.created", "added the store {subject}")
register_action("core.store.changed", "changed the store {subject}")
register_action("core.user.created", "created the account {subject}")
register_action("core.user.renamed", "changed the name of {subject}")
register_action("core.user.signed_out", "ended the sessions of {subject}")
register_action("core.user.switched_off", "switched off the account {subject}")
register_action("core.user.switched_on", "switched on the account {subject}")
register_action("core.password.changed", "changed the password of {subject}")
register_action("core.password.rehashed", "renewed the hash of the password of {subject}")
register_action("core.password.reset", "set a temporary password for {subject}")
register_action("core.link.issued", "created a single-use link for {subject}")
register_action("core.second_factor.set_up", "set up a second factor for {subject}")
register_action("core.second_factor.removed", "removed the second factor of {subject}")
register_action("core.second_factor.codes_renewed", "created new recovery codes for {subject}")
register_action("core.membership.granted", "gave the role {subject}")
register_action("core.membership.withdrawn", "withdrew the role {subject}")
register_action("core.account_request.made", "asked to {subject}")
register_action("core.account_request.confirmed", "confirmed to {subject}")
register_action("core.account_request.refused", "refused to {subject}")
register_action("core.token.issued", "issued an API token to {subject}")
register_action("core.token.revoked", "revoked an API token of {subject}")
