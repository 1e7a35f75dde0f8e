"""Models of core."""

from core.models.account_request import AccountAct, AccountRequest, Decision
from core.models.people import TRAINING_MARK, Membership, SizeSystem, Store, User, currency_code, printable, undirected
from core.models.security_event import SecurityEvent, SecurityKind
from core.models.sign_in import SealedDevice, TokenNote
from core.models.trail import AppendOnlyQuerySet, AuditEntry, DigestSalt

__all__ = [
    "TRAINING_MARK",
    "AccountAct",
    "AccountRequest",
    "AppendOnlyQuerySet",
    "AuditEntry",
    "Decision",
    "DigestSalt",
    "Membership",
    "SealedDevice",
    "SecurityEvent",
    "SecurityKind",
    "SizeSystem",
    "Store",
    "TokenNote",
    "User",
    "currency_code",
    "printable",
    "undirected",
]
