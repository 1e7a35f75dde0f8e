"""Each of the fittings' two-person rules, tried by somebody who has a part in the record."""

from __future__ import annotations

import pytest

from core.domain.errors import DomainError
from core.gate.two_people import RULES
from fittings.domain.fitting.need import N1
from fittings.domain.fitting.rules_data import rules_to_data
from fittings.models import ReferralRules
from fittings.services.fitting.referral_rules import referral_rules_adopt, referral_rules_draft
from fittings.services.fitting.rules import need_rules_adopt, need_rules_draft
from tests.people import person


def own_referral_rules(actor):
    data = {name: value for name, value in ReferralRules.objects.get(is_current=True).data.items() if name != "version"}
    rules = referral_rules_draft(actor=actor, version="R2", data=data, reason="a try")
    referral_rules_adopt(actor=actor, rules=rules, reason="mine")


def own_need_rules(actor):
    data = {name: value for name, value in rules_to_data(N1).items() if name != "version"}
    rules = need_rules_draft(actor=actor, version="N2", data=data, match={}, reason="a try")
    need_rules_adopt(actor=actor, rules=rules, reason="mine")


CASES = {"fittings.referral_rules:adopt": own_referral_rules, "fittings.need_rules:adopt": own_need_rules}
# Takes outcomes of many people: tried in the tests of the evidence.
ELSEWHERE = {"fittings.evidence:publish"}


def test_every_rule_of_the_fittings_is_tried():
    known = {name for name in RULES if name.startswith("fittings.")}
    assert known == CASES.keys() | ELSEWHERE


@pytest.mark.parametrize("name", CASES)
def test_who_has_a_part_in_the_record_is_refused(name, cast):
    rule = RULES[name]
    person("colleague", "office")
    with pytest.raises(DomainError) as refused:
        CASES[name](cast.office)
    assert (refused.value.code, refused.value.status) == (rule.code, 403)


def test_the_only_head_office_account_adopts_its_own_need_rules(cast):
    own_need_rules(cast.office)
