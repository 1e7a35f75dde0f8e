"""Models of core."""

from core.models.account_request import AccountAct, AccountRequest, Decision
from core.models.people import Membership, SizeSystem, Store, User, currency_code, printable
from core.models.sign_in import SealedDevice, TokenNote
from core.models.trail import AppendOnlyQuerySet, AuditEntry, DigestSalt

__all__ = [
    "AccountAct",
    "AccountRequest",
    "AppendOnlyQuerySet",
    "AuditEntry",
    "Decision",
    "DigestSalt",
    "Membership",
    "SealedDevice",
    "SizeSystem",
    "Store",
    "TokenNote",
    "User",
    "currency_code",
    "printable",
]
