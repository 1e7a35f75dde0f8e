"""When a person is advised to see a licensed clinician, by what they answered and the referral rules.

The thresholds are common practice, no source: they err on the side of sending a person on, and diagnose nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from fittings.domain.fitting.referral_rules import R1, ReferralRules
from fittings.domain.fitting.stop_signs import refer_words
from fittings.domain.regions import REGIONS, Complaint

SEE_SOMEBODY = "Please see a licensed clinician, such as a physiotherapist or a doctor, before you continue training."
NOT_AS_TREATMENT = "A shoe can still be chosen, but not as treatment."
TO_SAY = (
    "“I am not a clinician and can’t say what this is. Please have a physiotherapist or a doctor look at it before you "
    "continue training. I can give you a letter with what we saw and measured.”"
)
"""What staff say. It names no cause."""


@dataclass(frozen=True, slots=True)
class Reported:
    """What a person reports at a fitting, as far as the rules ask about it; None where it was not asked.

    Parameters
    ----------
    stop_signs : tuple of str
        Codes of stop signs.
    pain_now : int or None
        Pain now, 0 to 10.
    pain_weeks : int or None
        For how many weeks it has hurt.
    history : tuple of Complaint
        Complaints, past and present.
    """

    stop_signs: tuple[str, ...] = ()
    pain_now: int | None = None
    pain_weeks: int | None = None
    history: tuple[Complaint, ...] = ()


@dataclass(frozen=True, slots=True)
class Referral:
    """Whether to see a clinician, and the sentences that say why; none where there is no reason."""

    advice: tuple[str, ...]

    @property
    def refer(self) -> bool:
        return bool(self.advice)


def referral_at_fitting(reported: Reported, rules: ReferralRules = R1) -> Referral:
    """Referral by what was answered at a fitting.

    Parameters
    ----------
    reported : Reported
        What the person reports.
    rules : ReferralRules
        The version in use.

    Returns
    -------
    Referral
        For any stop sign, for pain now of at least `pain_now_from`, for pain now in one of `pain_now_regions`, and for
        pain that has lasted more than `pain_weeks_above` weeks.

    Raises
    ------
    KeyError
        When a sign is not of the rules.

    Examples
    --------
    >>> referral_at_fitting(Reported(pain_now=4)).refer
    False
    >>> referral_at_fitting(Reported(history=(Complaint("heel", now=True),))).refer
    True
    """
    lines = [line for line in (refer_words(reported.stop_signs, rules.signs),) if line]
    pain, weeks = reported.pain_now, reported.pain_weeks
    if pain is not None and pain >= rules.pain_now_from:
        lines.append(
            f"See a clinician first. Pain now was given as {pain} of 10; from {rules.pain_now_from} on we advise to "
            f"have it examined. {NOT_AS_TREATMENT}"
        )
    hurting = {item.region for item in reported.history if item.now}
    places = [REGIONS[region] for region in rules.pain_now_regions if region in hurting]
    if places:
        lines.append(
            f"See a clinician first. It hurts now here: {', '.join(places)}. We advise to have pain in these places "
            f"examined. {NOT_AS_TREATMENT}"
        )
    if weeks is not None and weeks > rules.pain_weeks_above and pain != 0:
        lines.append(
            f"See a clinician first. It has hurt for {_weeks(weeks)}; after {_weeks(rules.pain_weeks_above)} we advise "
            f"to have it examined. {NOT_AS_TREATMENT}"
        )
    return Referral(tuple(lines))


def referral_after_answer(
    *, worst_pain: int | None, recurred: bool, days_off: int | None, rules: ReferralRules = R1
) -> Referral:
    """Referral by the answers of a follow-up.

    Parameters
    ----------
    worst_pain : int or None
        Highest score of any place, 0 to 10; None where the question about pain was not answered.
    recurred : bool
        Whether a complaint from the fitting has come back.
    days_off : int or None
        Days without running, walking or work; None where not answered.
    rules : ReferralRules
        The version in use.

    Returns
    -------
    Referral
        For pain of at least `answer_pain_from`, for a recurrence, and for at least `answer_days_off_from` days off.

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> referral_after_answer(worst_pain=None, recurred=False, days_off=7).refer
    True
    """
    reasons = []
    if worst_pain is not None and worst_pain >= rules.answer_pain_from:
        reasons.append(f"Your pain was {worst_pain} of 10.")
    if recurred and rules.answer_on_recurrence:
        reasons.append("A complaint that you had before has come back.")
    if days_off is not None and days_off >= rules.answer_days_off_from:
        reasons.append(f"You could not run, walk or work as usual on {days_off} days.")
    return Referral((*reasons, SEE_SOMEBODY) if reasons else ())


def _weeks(count: int) -> str:
    return f"{count} {'week' if count == 1 else 'weeks'}"
