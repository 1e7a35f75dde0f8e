"""The audited records of core and the sentences of its audit actions."""

from __future__ import annotations

from core.audit import Part, register_action, register_record
from core.models import AccountRequest, Membership, Store, User

register_record(Store)
register_record(Membership)
register_record(AccountRequest, decisions=("asked", "decided"))
_CONFIRMED = {"confirmed": True}
# A password hash must not remain in a trail that nobody can erase, and signing in is not a change to the account. What
# lets somebody in is covered with the account that it lets in; what each use of it writes is left out.
register_record(
    User,
    exclude=("last_login",),
    private=("password", "email"),
    parts=(
        Part("totpdevice", columns=frozenset({"key"}), where=_CONFIRMED),
        Part(
            "totpdevice",
            name="second factors",
            columns=frozenset({"step", "t0", "digits", "tolerance"}),
            where=_CONFIRMED,
            since=2,
        ),
        Part("staticdevice", name="sets of recovery codes", columns=frozenset({"confirmed"}), since=2),
        Part("staticdevice__token_set", name="recovery codes", columns=frozenset({"token"}), since=2),
        Part("auth_token_set", name="API tokens", since=2),
        Part("auth_token_set__note", name="scopes of API tokens", columns=frozenset({"label", "scope"}), since=2),
    ),
)

register_action("core.store.created", "added the store {subject}")
register_action("core.store.changed", "changed the store {subject}")
register_action("core.user.created", "created the account {subject}")
register_action("core.user.renamed", "changed the name of {subject}")
register_action("core.user.email_changed", "changed the e-mail address of {subject}")
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
register_action("core.second_factor.code_used", "used a recovery code of {subject}")
register_action("core.user.covered", "recorded a digest of what lets {subject} in")
register_action("core.membership.granted", "gave the role {subject}")
register_action("core.membership.withdrawn", "withdrew the role {subject}")
register_action("core.account_request.made", "asked to {subject}")
register_action("core.account_request.confirmed", "confirmed to {subject}")
register_action("core.account_request.refused", "refused to {subject}")
register_action("core.token.issued", "issued an API token to {subject}")
register_action("core.token.revoked", "revoked an API token of {subject}")
