"""Referral rules in words."""

from __future__ import annotations

from fittings.domain.fitting.referral_rules import ReferralRules as Rules
from fittings.domain.fitting.referral_rules import referral_from_data
from fittings.domain.regions import REGIONS
from fittings.forms.fitting.referral_rules import NUMBERS, OWN_LABEL, RECURRENCE_LABEL, REGIONS_LABEL
from fittings.models import ReferralRules
from fittings.presentation.fitting.rules import RuleLine


def state_words(rules: ReferralRules) -> tuple[str, str]:
    if rules.is_current:
        return "in use", "state--good"
    return ("used before", "state--off") if rules.adopted_at else ("draft", "state--wait")


def rule_lines(stored: ReferralRules, other: ReferralRules | None) -> tuple[RuleLine, ...]:
    """Every rule of a version beside another's."""
    mine = _worded(referral_from_data(stored.data))
    beside = _worded(referral_from_data(other.data)) if other else mine
    return tuple(
        RuleLine(what, value, beside[what], "changed" if value != beside[what] else "") for what, value in mine.items()
    )


def _worded(rules: Rules) -> dict[str, str]:
    numbers = {label: str(getattr(rules, name)) for name, label in NUMBERS.items()}
    return {
        "Any stop sign": "always",
        **numbers,
        REGIONS_LABEL: ", ".join(REGIONS[region] for region in rules.pain_now_regions) or "none",
        RECURRENCE_LABEL: "yes" if rules.answer_on_recurrence else "no",
        OWN_LABEL: "; ".join(sign.words for sign in rules.own_signs) or "none",
    }
