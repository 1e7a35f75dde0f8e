"""The code of "Where to start": a visitor's answers, encrypted, for a fitter of this practice to open.

The code holds everything, so that nothing is stored until the fitter records a fitting and the customer agrees. It is
carried in the fragment of an address, which browsers send to no server.
"""

from __future__ import annotations

import base64
import binascii
import datetime as dt
import json
import re
from dataclasses import asdict, dataclass
from typing import Any

from django.utils import timezone

from core.audit import practice_id
from core.database.sealing import SealBroken, seal, unseal
from core.domain.errors import DomainError, field_error

PURPOSE = "start_code"
DAYS_VALID = 30
# Room for a pasted address; a code is about 250 characters.
TEXT_MAX_LENGTH = 1000
_CODE = re.compile(r"(?:.*#)?([0-9a-f]{12})\.([A-Za-z0-9_-]{22,800})", re.DOTALL)


@dataclass(frozen=True, slots=True)
class StartAnswers:
    """What a visitor said, in stored units; empty or None where nothing was said.

    Stop signs are not part of it: the fitter asks again.
    """

    use: str
    body_mass_kg: float | None = None
    distance_km_week: float | None = None
    roll: int | None = None
    hurt: str = ""
    hurts: str = ""
    worn: str = ""
    went: str = ""
    size: str = ""


@dataclass(frozen=True, slots=True)
class OpenedCode:
    """A code that was opened: the answers, and the day on which they were given."""

    answers: StartAnswers
    given_on: dt.date


def start_code_for(answers: StartAnswers, *, on: dt.date | None = None) -> str:
    """Return the code of some answers: the practice, a dot, and the encrypted answers."""
    practice, day = practice_id(), on or timezone.localdate()
    said = {name: value for name, value in asdict(answers).items() if value not in (None, "")}
    text = json.dumps([day.isoformat(), said], separators=(",", ":"), ensure_ascii=False)
    sealed = seal(text.encode(), purpose=PURPOSE, owner=practice)
    return f"{practice}.{base64.urlsafe_b64encode(sealed).rstrip(b'=').decode()}"


def start_code_read(text: str, *, on: dt.date | None = None) -> OpenedCode:
    """Open a code, given by itself or as the address that holds it.

    Raises
    ------
    DomainError
        400, where the code is damaged, of another practice, or older than `DAYS_VALID`.
    """
    found = _CODE.fullmatch(text.strip())
    if found is None:
        raise _refused("This code is incomplete. Scan it again, or paste all of it.", "code_damaged")
    practice, body = found.groups()
    if practice != practice_id():
        raise _refused("This code is from another practice and can’t be opened here.", "code_foreign")
    opened = _opened(practice, body)
    age = ((on or timezone.localdate()) - opened.given_on).days
    if age > DAYS_VALID:
        raise _refused(f"This code is {age} days old; after {DAYS_VALID} days ask the questions again.", "code_old")
    return opened


def _opened(practice: str, body: str) -> OpenedCode:
    try:
        sealed = base64.urlsafe_b64decode(body + "=" * (-len(body) % 4))
        day, said = json.loads(unseal(sealed, purpose=PURPOSE, owner=practice))
        return OpenedCode(_answers(said), dt.date.fromisoformat(day))
    except (SealBroken, binascii.Error, ValueError, TypeError) as problem:
        message = "This code is damaged: a part of it was changed or is missing. Scan it again."
        raise _refused(message, "code_damaged") from problem


def _answers(said: dict[str, Any]) -> StartAnswers:
    """Answers of a code that we wrote; those of an earlier version may have other names, which are left out."""
    return StartAnswers(**{name: value for name, value in said.items() if name in StartAnswers.__slots__})


def _refused(message: str, code: str) -> DomainError:
    return field_error("code", message, code=code)
