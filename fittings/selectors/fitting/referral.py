"""The referral rules in use, the referral of a fitting, and what a clinician asked for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from core.domain.errors import DomainError
from fittings.domain.fitting.intake import FittingIntake
from fittings.domain.fitting.referral import Referral, Reported, referral_at_fitting
from fittings.domain.fitting.referral_rules import ReferralRules, referral_from_data
from fittings.domain.fitting.stop_signs import STOP_SIGNS
from fittings.domain.refusals import not_here
from fittings.models import ClinicianReply, Fitting, ReferralLetter
from fittings.models import ReferralRules as StoredRules


@dataclass(frozen=True, slots=True)
class CurrentReferralRules:
    """The version in use, with its key."""

    pk: int
    rules: ReferralRules


def current_referral_rules() -> CurrentReferralRules:
    """The version of the referral rules that is in use: one query."""
    stored = StoredRules.objects.filter(is_current=True).first()
    if stored is None:
        raise DomainError("No referral rules are in use. Run the migrations.", code="no_rules", status=409)
    return CurrentReferralRules(stored.pk, referral_from_data(stored.data))


def referral_rules_list() -> list[StoredRules]:
    """Every version, the newest first."""
    return list(StoredRules.objects.select_related("created_by", "adopted_by").order_by("-created_at", "-pk"))


def referral_rules_get(pk: int) -> StoredRules:
    version = StoredRules.objects.select_related("created_by", "adopted_by").filter(pk=pk).first()
    if version is None:
        raise DomainError("These referral rules do not exist.", code="not_found", status=404)
    return version


def reported_of(intake: FittingIntake) -> Reported:
    """What of an intake the referral rules ask about."""
    return Reported(intake.stop_signs, intake.pain_now, intake.pain_weeks, intake.history)


def referral_of_fitting(fitting: Fitting) -> Referral:
    """The referral as it was at the fitting, whatever the rules say today; no query."""
    if fitting.referral_advice is not None:
        return Referral(tuple(fitting.referral_advice))
    # Older than the rules: stop signs and strong pain were referred then, and nothing else.
    return referral_at_fitting(Reported(tuple(fitting.stop_signs), fitting.pain_now))


def stop_sign_words(fitting: Fitting) -> list[str]:
    """The stop signs of a fitting in the words in which they were asked."""
    if all(code in STOP_SIGNS for code in fitting.stop_signs):
        return [STOP_SIGNS[code] for code in fitting.stop_signs]
    signs = referral_from_data(fitting.referral_rules.data).signs if fitting.referral_rules else STOP_SIGNS
    return [signs.get(code, code) for code in fitting.stop_signs]


def reply_of(fitting: Fitting) -> ClinicianReply | None:
    """The newest reply of a clinician: its wishes come before the rules."""
    replies = ClinicianReply.objects.filter(fitting=fitting).select_related("recorded_by")
    return replies.order_by("-received_on", "-pk").first()


def letter_get(user: Any, pk: int) -> ReferralLetter:
    """One letter of the user's stores; a 404 for any other."""
    rows = ReferralLetter.objects.visible_to(user).select_related(
        "fitting__store", "fitting__customer", "fitting__fitter", "fitting__rules", "fitting__current_shoe__brand",
        "fitting__choice__shoe__brand", "fitting__referral_rules", "written_by",
    )  # fmt: skip
    letter: ReferralLetter | None = rows.filter(pk=pk).first()
    if letter is None:
        raise not_here("letter")
    return letter
