"""A duplicate with published scores is not merged away."""

from __future__ import annotations

import pytest

from catalogue.services import shoe_merge
from core.domain.errors import DomainError


def test_published_duplicate_is_refused_with_the_way_out(make_shoe, publisher):
    published, draft = make_shoe("fen"), make_shoe("fen-b", published=False)
    with pytest.raises(DomainError, match="Merge the other way round") as refused:
        shoe_merge(actor=publisher, duplicate=published, into=draft, reason="twice")
    assert refused.value.code == "published"
    assert shoe_merge(actor=publisher, duplicate=draft, into=published, reason="twice") == published


def test_two_published_shoes_are_refused(make_shoe, publisher):
    first, second = make_shoe("fen"), make_shoe("fen-b")
    with pytest.raises(DomainError, match="Withdraw the scores of one") as refused:
        shoe_merge(actor=publisher, duplicate=first, into=second, reason="twice")
    assert refused.value.code == "both_published"
