"""When a person is advised to see a licensed clinician: simple rules on what they answered.

The rules are common practice, no source: they err on the side of sending a person on, and diagnose nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fittings.domain.fitting.stop_signs import refer_words

PAIN_FROM = 5
"""Lowest pain score (0 to 10), anywhere, that is referred. Common practice, no source."""

DAYS_OFF_FROM = 7
"""Fewest days without running, walking or work that are referred. Common practice, no source."""

SEE_SOMEBODY = "Please see a licensed clinician, such as a physiotherapist or a doctor, before you train on."


@dataclass(frozen=True, slots=True)
class Referral:
    """Whether to see a clinician, and the sentences that say why; none where there is no reason."""

    advice: tuple[str, ...]

    @property
    def refer(self) -> bool:
        return bool(self.advice)


def referral_at_fitting(stop_signs: Iterable[str], pain_now: int | None) -> Referral:
    """Referral by what was answered at a fitting.

    Parameters
    ----------
    stop_signs : iterable of str
        Keys of `stop_signs.STOP_SIGNS`.
    pain_now : int or None
        Pain now, 0 to 10; None where it was not asked.

    Returns
    -------
    Referral
        For any stop sign, and for pain of at least `PAIN_FROM`.

    Raises
    ------
    KeyError
        When a sign is not of the list.

    Examples
    --------
    >>> referral_at_fitting([], 4).refer
    False
    """
    lines = [refer_words(stop_signs)]
    if pain_now is not None and pain_now >= PAIN_FROM:
        lines.append(
            f"See a clinician first. Pain now was given as {pain_now} of 10; from {PAIN_FROM} on we advise to have it "
            "examined. A shoe can still be chosen, but not as treatment."
        )
    return Referral(tuple(line for line in lines if line))


def referral_after_answer(*, worst_pain: int | None, recurred: bool, days_off: int | None) -> Referral:
    """Referral by the answers of a follow-up.

    Parameters
    ----------
    worst_pain : int or None
        Highest score of any place, 0 to 10; None where the question about pain was not answered.
    recurred : bool
        Whether a complaint from the fitting has come back.
    days_off : int or None
        Days without running, walking or work; None where not answered.

    Returns
    -------
    Referral
        For pain of at least `PAIN_FROM`, for a recurrence, and for at least `DAYS_OFF_FROM` days off.

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> referral_after_answer(worst_pain=None, recurred=False, days_off=7).refer
    True
    """
    reasons = []
    if worst_pain is not None and worst_pain >= PAIN_FROM:
        reasons.append(f"Your pain was {worst_pain} of 10.")
    if recurred:
        reasons.append("A complaint that you had before has come back.")
    if days_off is not None and days_off >= DAYS_OFF_FROM:
        reasons.append(f"You could not run, walk or work as usual on {days_off} days.")
    return Referral((*reasons, SEE_SOMEBODY) if reasons else ())
