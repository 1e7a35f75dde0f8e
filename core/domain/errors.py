"""Expected failures: a message for people, a code for machines."""

from __future__ import annotations

import re

# PostgreSQL refuses NUL, and the others can't be seen where the reason is read. A reason may have several lines.
CONTROL_CHARACTERS = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")


class DomainError(Exception):
    """A rule of the practice was violated. Nothing was changed.

    Parameters
    ----------
    message : what is wrong, where, and how to fix it
    code : a stable word for programs
    status : the HTTP status it becomes: 400, 403, 404, 409, 413 or 429
    fields : messages by field of the input
    """

    def __init__(
        self, message: str, *, code: str = "invalid", status: int = 400, fields: dict[str, list[str]] | None = None
    ) -> None:
        super().__init__(message)
        self.message = message
        self.code = code
        self.status = status
        self.fields = fields or {}

    def within(self, part: str) -> DomainError:
        """Return the same error for a form that has one part of the input only (`customer.name` becomes `name`)."""
        fields = {name.removeprefix(f"{part}."): words for name, words in self.fields.items()}
        return DomainError(self.message, code=self.code, status=self.status, fields=fields)


def field_error(field: str, message: str, *, code: str = "invalid", status: int = 400) -> DomainError:
    """Return the error of one field of the input."""
    return DomainError(message, code=code, status=status, fields={field: [message]})


def required_reason(
    reason: str, *, asked: str = "Give a reason.", at_most: int | None = None, code: str = "reason_required"
) -> str:
    """Return a reason without the space around it; an empty one is refused, with the message `asked` and the code."""
    if not reason.strip():
        raise field_error("reason", asked, code=code)
    return optional_reason(reason, at_most=at_most)


def optional_reason(reason: str, *, at_most: int | None = None) -> str:
    """Return a reason, which can be empty, without the space around it.

    One with control characters, or with more characters than `at_most`, is refused.
    """
    if found := CONTROL_CHARACTERS.search(reason):
        message = (
            f"Write the reason without control characters: character {found.start() + 1} is U+{ord(found[0]):04X}. "
            "It often comes from text that was copied; type the reason."
        )
        raise field_error("reason", message, code="control_characters")
    stripped = reason.strip()
    if at_most is not None and len(stripped) > at_most:
        message = f"Write the reason in {at_most} characters or fewer; this one has {len(stripped)}."
        raise field_error("reason", message)
    return stripped
