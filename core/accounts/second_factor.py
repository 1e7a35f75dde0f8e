"""The second factor: time-based codes (RFC 6238) from the user's own device, and one-time recovery codes."""

from __future__ import annotations

import base64
import re
import secrets

import segno
from django.db import transaction
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.utils.safestring import SafeString, mark_safe
from django_otp.models import Device
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from knox.models import AuthToken

from core import audit
from core.accounts.security_log import note
from core.accounts.services import check_reason, end_sessions, locked
from core.accounts.two_accounts import need_two
from core.domain.errors import DomainError
from core.models import SealedDevice, SecurityKind, User

DEVICE_NAME = "second factor"
RECOVERY_CODES = 10
RECOVERY_BYTES = 10
# As many characters as django-otp's column holds: 80 bits of the digest.
DIGEST_CHARACTERS = 16
_TOTP = re.compile(r"\d{6}")


def device_of(user: User, *, confirmed: bool) -> SealedDevice | None:
    device: SealedDevice | None = SealedDevice.objects.filter(user=user, confirmed=confirmed).first()
    return device


def setup_secret(device: SealedDevice) -> str:
    """Return the secret for typing by hand, in groups of four characters."""
    text = base64.b32encode(device.bin_key).decode().rstrip("=")
    return " ".join(re.findall(".{1,4}", text))


def setup_picture(device: SealedDevice) -> SafeString:
    """Return the QR code of the secret as inline SVG."""
    picture = segno.make(device.config_url, error="m", micro=False)
    svg = picture.svg_inline(
        scale=5, border=4, light="#fff", title="QR code of the secret", svgclass=None, lineclass=None
    )
    return mark_safe(svg)  # noqa: S308  drawn by segno; the address appears in it as a picture only


@transaction.atomic
def second_factor_begin(*, actor: User) -> SealedDevice:
    """Create a new secret for the user's own account. It has no effect until a code from it is confirmed."""
    user = locked(actor)
    if device_of(user, confirmed=True):
        raise DomainError("A second factor is already set up. Remove it first.", code="has_second_factor", status=409)
    SealedDevice.objects.filter(user=user).delete()
    device: SealedDevice = SealedDevice.objects.create(
        user=user, name=DEVICE_NAME, confirmed=False, key=SealedDevice.new_key(user)
    )
    return device


def second_factor_confirm(*, actor: User, code: str) -> list[str]:
    """Turn the second factor on with a first code; every other session ends. Returns the recovery codes, shown once."""
    device = device_of(actor, confirmed=False)
    if device is None:
        raise DomainError("There is no secret to confirm. Start the set-up again.", code="no_setup", status=409)
    _require_code(device, _plain(code))
    with transaction.atomic():
        user = locked(actor)
        device = device_of(user, confirmed=False)
        if device is None:
            message = "The set-up was confirmed or restarted in another window. Open My account to see its state."
            raise DomainError(message, code="no_setup", status=409)
        before = audit.snapshot(user)
        device.confirmed = True
        device.save(update_fields=["confirmed"])
        codes = _renew_codes(user)
        end_sessions(user)
        audit.record(actor=actor, action="core.second_factor.set_up", subject=user, before=before)
        note(SecurityKind.FACTOR_ADDED, user=user, actor=actor)
    return codes


def verify(*, user: User, code: str) -> Device:
    """Check a code from the device, or a recovery code, which can be used only once.

    Raises
    ------
    DomainError
        `wait` after several wrong codes in a row, for twice as long each time; otherwise `wrong_code`.
    """
    plain = _plain(code)
    if _TOTP.fullmatch(plain):
        device: Device | None = device_of(user, confirmed=True)
        token = plain
    else:
        device = StaticDevice.objects.filter(user=user, confirmed=True).first()
        token = _digest(user, plain)
    if device is None:
        raise DomainError(_WRONG, code="wrong_code")
    _require_code(device, token)
    return device


_WRONG = (
    "This code is not correct. Enter the six digits your device shows now and check that its clock is right, "
    "or enter a recovery code that you have not used before."
)


def _require_code(device: Device, token: str) -> None:
    """Check a code under a lock, so that two requests cannot use the same one; a failure is recorded."""
    with transaction.atomic():
        row = type(device).objects.select_for_update().filter(pk=device.pk).first()
        may_try, why = row.verify_is_allowed() if row else (True, None)
        is_right = bool(row and may_try and row.verify_token(token))
        if row and is_right and isinstance(row, StaticDevice):
            # A recovery code is gone once it was used, and the trail covers those that are left.
            audit.record(actor=row.user, action="core.second_factor.code_used", subject=row.user)
    if not may_try and why:
        seconds = max(1, round((why["locked_until"] - timezone.now()).total_seconds()))
        raise DomainError(f"Too many wrong codes in a row. Try again in {seconds} seconds.", code="wait", status=409)
    if not is_right:
        raise DomainError(_WRONG, code="wrong_code")


def second_factor_remove(*, actor: User, code: str) -> None:
    """Remove the user's own second factor, confirmed by one of its codes."""
    verify(user=actor, code=code)
    _remove(actor=actor, user=actor, reason="")


@transaction.atomic
def second_factor_lift(*, actor: User, user: User, reason: str, asked_by: User | None = None) -> None:
    """Remove another user's second factor because the device is lost; all their sessions and tokens end."""
    check_reason(reason)
    need_two(actor, user, asked_by=asked_by)
    AuthToken.objects.filter(user=user).delete()
    _remove(actor=actor, user=user, reason=reason)


@transaction.atomic
def _remove(*, actor: User, user: User, reason: str) -> None:
    account = locked(user)
    if device_of(account, confirmed=True) is None:
        raise DomainError("This account has no second factor.", code="no_second_factor", status=409)
    before = audit.snapshot(account)
    SealedDevice.objects.filter(user=account).delete()
    StaticDevice.objects.filter(user=account).delete()
    end_sessions(account)
    audit.record(actor=actor, action="core.second_factor.removed", subject=account, before=before, reason=reason)
    is_own = actor.pk == account.pk
    note(SecurityKind.FACTOR_REMOVED if is_own else SecurityKind.FACTOR_LIFTED, user=account, actor=actor)


def recovery_codes_renew(*, actor: User, code: str) -> list[str]:
    """Create new recovery codes, confirmed by a code; the old ones stop working."""
    verify(user=actor, code=code)
    with transaction.atomic():
        user = locked(actor)
        codes = _renew_codes(user)
        audit.record(actor=actor, action="core.second_factor.codes_renewed", subject=user)
        note(SecurityKind.CODES_RENEWED, user=user, actor=actor)
    return codes


def _renew_codes(user: User) -> list[str]:
    # The device row is reused: sessions that were opened with a recovery code refer to it.
    device, _ = StaticDevice.objects.get_or_create(user=user, defaults={"name": DEVICE_NAME})
    device.token_set.all().delete()
    codes = [_new_code() for _ in range(RECOVERY_CODES)]
    StaticToken.objects.bulk_create([StaticToken(device=device, token=_digest(user, _plain(code))) for code in codes])
    return codes


def _new_code() -> str:
    """Return 80 bits as four groups of four letters and digits."""
    text = base64.b32encode(secrets.token_bytes(RECOVERY_BYTES)).decode().lower()
    return "-".join(re.findall("....", text))


def _plain(code: str) -> str:
    return re.sub(r"[\s-]", "", code).lower()


def _digest(user: User, plain: str) -> str:
    """Return the form in which a recovery code is stored; the code cannot be derived from it."""
    digest = salted_hmac("core.second_factor.recovery", f"{user.pk}:{plain}", algorithm="sha256").digest()
    return base64.b32encode(digest).decode().lower()[:DIGEST_CHARACTERS]
