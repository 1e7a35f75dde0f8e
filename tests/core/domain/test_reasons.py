"""Reasons that people give: wanted, without the space around them, and readable."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.domain.errors import DomainError, optional_reason, required_reason


@pytest.mark.parametrize("reason", ["", "  ", "\n"])
def test_reason_is_wanted(reason):
    with pytest.raises(DomainError, match="Give a reason") as refused:
        required_reason(reason)
    assert (refused.value.code, refused.value.status) == ("reason_required", 400)


@pytest.mark.parametrize("control", ["\x00", "\x07", "\x0b", "\x1b", "\x7f", "\x85"])
def test_control_characters_are_refused_with_their_place(control):
    with pytest.raises(DomainError, match=f"character 6 is U\\+{ord(control):04X}") as refused:
        required_reason(f"foam {control}torn")
    assert (refused.value.code, refused.value.status) == ("control_characters", 400)
    assert refused.value.fields == {"reason": [refused.value.message]}


def test_reason_may_have_several_lines():
    assert required_reason(" foam torn\r\nat the heel;\tand dirty\n") == "foam torn\r\nat the heel;\tand dirty"


@given(st.text(st.characters(exclude_categories=("Cc", "Cs"))))
def test_any_other_text_is_readable(reason):
    assert optional_reason(reason) == reason.strip()
