"""Models of core."""

from core.models.people import Membership, SizeSystem, Store, User, currency_code, printable
from core.models.sign_in import SealedDevice, TokenNote
from core.models.trail import AppendOnlyQuerySet, AuditEntry

__all__ = [
    "AppendOnlyQuerySet",
    "AuditEntry",
    "Membership",
    "SealedDevice",
    "SizeSystem",
    "Store",
    "TokenNote",
    "User",
    "currency_code",
    "printable",
]
