"""What every installation starts with, and what is calculated again after a migration.

Need rules N1, referral rules R1 and grade cut-offs G1: common practice, no source.
"""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from core import audit
from core.gate import row_scope
from core.standard import register_installer
from fittings.domain.fitting.grading import G1, cutoffs_to_data
from fittings.domain.fitting.need import N1
from fittings.domain.fitting.referral_rules import R1, referral_to_data
from fittings.domain.fitting.rules_data import rules_to_data
from fittings.models import GradeCutoffs, NeedRules, ReferralRules
from fittings.selectors.outcomes.courses import fittings_without_course
from fittings.services.outcomes.course import courses_work_out


@transaction.atomic
def install_need_rules() -> None:
    if NeedRules.objects.filter(version=N1.version).exists():
        return
    now = timezone.now()
    rules = NeedRules.objects.create(
        version=N1.version,
        data=rules_to_data(N1),
        reason="The rules that every installation starts with.",
        is_current=not NeedRules.objects.filter(is_current=True).exists(),
        created_at=now,
        adopted_at=now,
    )
    audit.record(actor=None, action="fittings.need_rules.created", subject=rules, reason="standard data")


@transaction.atomic
def install_referral_rules() -> None:
    if ReferralRules.objects.filter(version=R1.version).exists():
        return
    now = timezone.now()
    rules = ReferralRules.objects.create(
        version=R1.version,
        data=referral_to_data(R1),
        reason="The referral rules that every installation starts with.",
        is_current=not ReferralRules.objects.filter(is_current=True).exists(),
        created_at=now,
        adopted_at=now,
    )
    audit.record(actor=None, action="fittings.referral_rules.created", subject=rules, reason="standard data")


@transaction.atomic
def install_grade_cutoffs() -> None:
    if GradeCutoffs.objects.filter(name=G1.name).exists():
        return
    cutoffs = GradeCutoffs.objects.create(
        name=G1.name,
        data=cutoffs_to_data(G1),
        source="common practice, no source",
        is_current=not GradeCutoffs.objects.filter(is_current=True).exists(),
        created_at=timezone.now(),
    )
    audit.record(actor=None, action="fittings.grade_cutoffs.created", subject=cutoffs, reason="standard data")


@transaction.atomic
def install_courses() -> None:
    """Calculate the courses that are missing, as after a migration that changed their table."""
    with row_scope.everything():
        missing = fittings_without_course()
        if missing:
            courses_work_out(missing)


register_installer(install_need_rules)
register_installer(install_referral_rules)
register_installer(install_grade_cutoffs)
register_installer(install_courses)
