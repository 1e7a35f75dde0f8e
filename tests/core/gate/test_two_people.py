"""The table of the two-person rules is that of the program."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

from core.domain.errors import DomainError
from core.gate.two_people import RULES, TwoPersonRule, need_another, register_rules


def test_table_in_the_docs_lists_every_rule():
    text = (settings.BASE_DIR / "docs" / "two-person-rules.md").read_text()
    rows = [f"| `{rule.name}` | {rule.act} | {rule.not_by} |" for _, rule in sorted(RULES.items())]
    assert [line for line in text.splitlines() if line.startswith("| `")] == rows


def test_only_who_is_involved_is_refused():
    (rule, *_) = RULES.values()
    one = SimpleNamespace(pk=1)
    need_another(rule.name, one, involved=[2, None], message="no")
    need_another(rule.name, None, involved=[1], message="no")
    with pytest.raises(DomainError, match="You made it") as refused:
        need_another(rule.name, one, involved=[None, 1], message="You made it.")
    assert (refused.value.code, refused.value.status) == (rule.code, 403)


def test_one_name_is_one_rule():
    (rule, *_) = RULES.values()
    register_rules([rule])
    with pytest.raises(ImproperlyConfigured, match="twice"):
        register_rules([TwoPersonRule(rule.name, "another act", rule.not_by, rule.code)])
