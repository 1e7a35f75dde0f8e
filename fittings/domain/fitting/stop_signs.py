"""Signs that belong before a clinician first. A shoe can still be chosen, never as treatment.

The list is a set of questions for lay people and diagnoses nothing. It errs on the side of sending a person on; a
practice adds its own signs by the referral rules (`referral_rules`).

References
----------
.. [1] Stiell I.G. et al., Ottawa ankle and foot rules: bone tenderness, and not able to take four steps.
.. [2] Wells P.S. et al., clinical prediction of deep vein thrombosis: swollen leg, recent surgery or immobility.
.. [3] British Society for Rheumatology, guideline on the hot swollen joint in adults (2006): even without fever.
.. [4] International Working Group on the Diabetic Foot, guidelines (2023): loss of protective sensation, any wound.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from core.domain.quoting import quoted
from fittings.domain.regions import code_of

COMMON_PRACTICE = "common practice, no source"
OTTAWA = "Ottawa ankle and foot rules (Stiell et al.)"
WELLS = "clinical prediction rule for deep vein thrombosis (Wells et al.)"
RHEUMATOLOGY = "British Society for Rheumatology, guideline on the hot swollen joint in adults (2006)"
DIABETIC_FOOT = "International Working Group on the Diabetic Foot, guidelines (2023)"


@dataclass(frozen=True, slots=True)
class StopSign:
    """A sign, the words it is asked in, where it comes from, and whether to see a clinician the same day."""

    code: str
    words: str
    source: str = COMMON_PRACTICE
    same_day: bool = False


STANDARD_SIGNS: tuple[StopSign, ...] = (
    StopSign("night_pain", "pain that wakes at night"),
    StopSign("pain_at_rest", "pain at rest"),
    StopSign("swelling", "swelling"),
    StopSign("numbness", "numbness or tingling"),
    StopSign("sudden_onset", "sudden onset, a snap or a fall"),
    StopSign("open_skin", "open skin with diabetes or lost feeling in the feet", DIABETIC_FOOT, same_day=True),
    StopSign("stress_fracture", "a clinician suspects a stress fracture, or there was one before"),
    StopSign("bone_pain", "pain at one point on a bone, which a fingertip covers", OTTAWA),
    StopSign("four_steps", "cannot take four steps on that foot without help", OTTAWA, same_day=True),
    StopSign("calf", "one calf hot, swollen or tender", WELLS, same_day=True),
    StopSign("hot_joint", "fever, or a hot and swollen joint", RHEUMATOLOGY, same_day=True),
    StopSign("diabetes", "diabetes or lost feeling in the feet, also without a wound", DIABETIC_FOOT),
    StopSign("surgery", "surgery, a plaster cast or days in bed within the last three months", WELLS),
    StopSign("under_16", "under 16 years old, with no parent or guardian present"),
)
"""The signs that every installation asks about, in the order of the page."""

STOP_SIGNS: dict[str, str] = {sign.code: sign.words for sign in STANDARD_SIGNS}
"""Code of each of these signs and the words for it."""

REFER_WORDS = (
    "See a clinician first. A sign was reported that a shoe must not be used to treat: {signs}. "
    "A shoe can still be chosen, but not as treatment."
)
SAME_DAY_WORDS = (
    "This should be seen today: {signs}. With trouble breathing, pain in the chest or no weight possible on the leg, "
    "get emergency help."
)

_SAME_DAY = frozenset(sign.code for sign in STANDARD_SIGNS if sign.same_day)
_OTHER_WORDS: dict[str, str] = {
    "rest_pain": "pain_at_rest",
    "pain_at_night": "night_pain",
    "sudden": "sudden_onset",
    "tingling": "numbness",
    "numbness_or_tingling": "numbness",
    "open_skin_with_diabetes": "open_skin",
    "open_skin_with_lost_feeling": "open_skin",
    "open_skin_with_diabetes_or_lost_feeling": "open_skin",
    "open_skin_diabetes": "open_skin",
    "suspected_stress_fracture": "stress_fracture",
    "lost_feeling": "diabetes",
    "fever": "hot_joint",
    "hot_calf": "calf",
    "swollen_calf": "calf",
    "recent_surgery": "surgery",
}


def read_stop_signs(given: Iterable[object], signs: Mapping[str, str] = STOP_SIGNS) -> tuple[str, ...]:
    """Codes of the stop signs, each once, in the order of the list.

    Parameters
    ----------
    given : iterable of object
        Codes or their words; capitals, spaces and hyphens do not matter.
    signs : mapping of str to str
        Code and words of every sign that is asked about; `STOP_SIGNS`, with those of the practice.

    Returns
    -------
    tuple of str
        Keys of `signs`.

    Raises
    ------
    TypeError
        When an item is no text.
    ValueError
        When an item is no sign of the list.

    Examples
    --------
    >>> read_stop_signs(["Swelling", "night pain", "swelling"])
    ('night_pain', 'swelling')
    """
    codes = {_read_sign(item, signs) for item in given}
    return tuple(code for code in signs if code in codes)


def refer_words(codes: Iterable[str], signs: Mapping[str, str] = STOP_SIGNS) -> str:
    """The sentences that send a person to a clinician, or an empty text when there is no sign.

    Parameters
    ----------
    codes : iterable of str
        Keys of `signs`.
    signs : mapping of str to str
        Code and words of every sign.

    Returns
    -------
    str
        What was reported, and what of it should be seen the same day.

    Raises
    ------
    KeyError
        When a code is not of the list.

    Examples
    --------
    >>> refer_words([])
    ''
    """
    codes = list(codes)
    if not codes:
        return ""
    words = REFER_WORDS.format(signs="; ".join(signs[code] for code in codes))
    return f"{words} {same_day_words(codes, signs)}".rstrip()


def same_day_words(codes: Iterable[str], signs: Mapping[str, str] = STOP_SIGNS) -> str:
    """The sentence about signs that should be seen the same day; an empty text where there is none.

    Parameters
    ----------
    codes : iterable of str
        Keys of `signs`.
    signs : mapping of str to str
        Code and words of every sign.

    Returns
    -------
    str
        One sentence, and when to get emergency help.

    Raises
    ------
    KeyError
        When a code is not of the list.

    Examples
    --------
    >>> same_day_words(["swelling"])
    ''
    >>> same_day_words(["calf"]).startswith("This should be seen today")
    True
    """
    urgent = [signs[code] for code in codes if code in _SAME_DAY]
    return SAME_DAY_WORDS.format(signs="; ".join(urgent)) if urgent else ""


def _read_sign(item: object, signs: Mapping[str, str]) -> str:
    if not isinstance(item, str):
        raise TypeError(f"stop_signs must be texts such as “swelling”, got {item!r}")
    code = code_of(item)
    code = _OTHER_WORDS.get(code, code)
    if code not in signs:
        raise ValueError(f"stop_signs must be of {', '.join(signs)}, got {quoted(item)}")
    return code
