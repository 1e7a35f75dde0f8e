"""The second factor: time-based codes (RFC 6238) from a device of the person's own, and one-time recovery codes."""

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

from core import audit
from core.accounts.services import end_sessions, locked, require_reason
from core.domain.errors import DomainError
from core.models import SealedDevice, User

DEVICE_NAME = "second factor"
RECOVERY_CODES = 10
RECOVERY_BYTES = 10
# What the table of django-otp has room for: 80 bits of the digest.
KEPT_CHARACTERS = 16
_TOTP = re.compile(r"\d{6}")


def device_of(user: User, *, confirmed: bool) -> SealedDevice | None:
    device: SealedDevice | None = SealedDevice.objects.filter(user=user, confirmed=confirmed).first()
    return device


def setup_secret(device: SealedDevice) -> str:
    """Return the secret to type by hand, in groups of four."""
    text = base64.b32encode(device.bin_key).decode().rstrip("=")
    return " ".join(re.findall(".{1,4}", text))


def setup_picture(device: SealedDevice) -> SafeString:
    """Return the QR code of the secret as inline SVG."""
    picture = segno.make(device.config_url, error="m", micro=False)
    svg = picture.svg_inline(
        scale=5, border=4, light="#fff", title="QR code of the secret", svgclass=None, lineclass=None
    )
    return mark_safe(svg)  # noqa: S308  drawn by segno from what is in it; the address in it is a picture only


@transaction.atomic
def second_factor_begin(*, actor: User) -> SealedDevice:
    """Make a new secret for one's own account. It counts for nothing until a code of it is confirmed."""
    user = locked(actor)
    if device_of(user, confirmed=True):
        raise DomainError("A second factor is set up already. Remove it first.", code="has_second_factor", status=409)
    SealedDevice.objects.filter(user=user).delete()
    device: SealedDevice = SealedDevice.objects.create(
        user=user, name=DEVICE_NAME, confirmed=False, key=SealedDevice.new_key(user)
    )
    return device


def second_factor_confirm(*, actor: User, code: str) -> list[str]:
    """Turn the second factor on by a first code; every other session ends. Returns the recovery codes, shown once."""
    device = device_of(actor, confirmed=False)
    if device is None:
        raise DomainError("There is no secret to confirm. Begin again.", code="no_setup", status=409)
    _require_code(device, _plain(code))
    with transaction.atomic():
        user = locked(actor)
        device = device_of(user, confirmed=False)
        if device is None:
            raise DomainError("This was confirmed or begun anew elsewhere.", code="no_setup", status=409)
        before = audit.snapshot(user)
        device.confirmed = True
        device.save(update_fields=["confirmed"])
        codes = _renew_codes(user)
        end_sessions(user)
        audit.record(actor=actor, action="core.second_factor.set_up", subject=user, before=before)
    return codes


def verify(*, user: User, code: str) -> Device:
    """Check a code of the device, or a recovery code, which is used up by it.

    Raises
    ------
    DomainError
        `wait` after wrong codes in a row, for twice as long each time; `wrong_code` else.
    """
    plain = _plain(code)
    if _TOTP.fullmatch(plain):
        device: Device | None = device_of(user, confirmed=True)
        token = plain
    else:
        device = StaticDevice.objects.filter(user=user, confirmed=True).first()
        token = _kept(user, plain)
    if device is None:
        raise DomainError(_WRONG, code="wrong_code")
    _require_code(device, token)
    return device


_WRONG = (
    "That code is not right. Take the newest six digits from your device, and check that its clock is right; "
    "or a recovery code that was not used before."
)


def _require_code(device: Device, token: str) -> None:
    """Check a code under a lock, so that the same one is not taken twice at once; a failure is kept."""
    with transaction.atomic():
        held = type(device).objects.select_for_update().filter(pk=device.pk).first()
        may, why = held.verify_is_allowed() if held else (True, None)
        right = bool(held and may and held.verify_token(token))
    if not may and why:
        seconds = max(1, round((why["locked_until"] - timezone.now()).total_seconds()))
        raise DomainError(f"Too many wrong codes in a row. Try again in {seconds} seconds.", code="wait", status=409)
    if not right:
        raise DomainError(_WRONG, code="wrong_code")


def second_factor_remove(*, actor: User, code: str) -> None:
    """Take one's own second factor away, by a code of it."""
    verify(user=actor, code=code)
    _take_away(actor=actor, user=actor, reason="")


def second_factor_lift(*, actor: User, user: User, reason: str) -> None:
    """Take somebody's second factor away because the device is lost; every session of theirs ends."""
    require_reason(reason)
    _take_away(actor=actor, user=user, reason=reason)


@transaction.atomic
def _take_away(*, actor: User, user: User, reason: str) -> None:
    held = locked(user)
    if device_of(held, confirmed=True) is None:
        raise DomainError("No second factor is set up.", code="no_second_factor", status=409)
    before = audit.snapshot(held)
    SealedDevice.objects.filter(user=held).delete()
    StaticDevice.objects.filter(user=held).delete()
    end_sessions(held)
    audit.record(actor=actor, action="core.second_factor.removed", subject=held, before=before, reason=reason)


def recovery_codes_renew(*, actor: User, code: str) -> list[str]:
    """Make new recovery codes, by a code of the device; the old ones are void."""
    verify(user=actor, code=code)
    with transaction.atomic():
        user = locked(actor)
        codes = _renew_codes(user)
        audit.record(actor=actor, action="core.second_factor.codes_renewed", subject=user)
    return codes


def _renew_codes(user: User) -> list[str]:
    # The device stays, for the sessions that a recovery code opened.
    device, _ = StaticDevice.objects.get_or_create(user=user, defaults={"name": DEVICE_NAME})
    device.token_set.all().delete()
    codes = [_new_code() for _ in range(RECOVERY_CODES)]
    StaticToken.objects.bulk_create([StaticToken(device=device, token=_kept(user, _plain(code))) for code in codes])
    return codes


def _new_code() -> str:
    """Return 80 bits as four groups of four letters and digits."""
    text = base64.b32encode(secrets.token_bytes(RECOVERY_BYTES)).decode().lower()
    return "-".join(re.findall("....", text))


def _plain(code: str) -> str:
    return re.sub(r"[\s-]", "", code).lower()


def _kept(user: User, plain: str) -> str:
    """Return the form in which a recovery code is kept: one that can't be turned back into the code."""
    digest = salted_hmac("core.second_factor.recovery", f"{user.pk}:{plain}", algorithm="sha256").digest()
    return base64.b32encode(digest).decode().lower()[:KEPT_CHARACTERS]
