"""Texts that messages repeat."""

from __future__ import annotations

import json

import pytest

from core.domain.quoting import QUOTED_MOST, quoted


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("", "“”"),
        ("it's", "“it's”"),
        (" two\n\twords ", "“two words”"),
        ("nul\x00", r"“nul\x00”"),
        ("\ud800", r"“\ud800”"),
        ("a\u200bb", r"“a\u200bb”"),
        ("Ærø 靴", "“Ærø 靴”"),
        ("x" * QUOTED_MOST, f"“{'x' * QUOTED_MOST}”"),
        ("x" * (QUOTED_MOST + 1), f"“{'x' * QUOTED_MOST}…”"),
    ],
)
def test_text_is_quoted_on_one_line_with_its_unseen_signs(text, shown):
    assert quoted(text) == shown
    assert json.dumps(quoted(text), ensure_ascii=False).encode()


def test_text_of_any_length_is_shortened():
    assert quoted(" " * 10_000_000 + "x") == "“”"
    assert len(quoted("word " * 2_000_000)) == QUOTED_MOST + 3
