"""Signs that belong before a clinician first. A shoe can still be chosen, never as treatment.

The list is common practice, no source: it errs on the side of sending a person on, and a practice adds to it by local
rules.
"""

from __future__ import annotations

from collections.abc import Iterable

from fittings.domain.fitting.regions import code_of

STOP_SIGNS: dict[str, str] = {
    "night_pain": "pain that wakes at night",
    "pain_at_rest": "pain at rest",
    "swelling": "swelling",
    "numbness": "numbness or tingling",
    "sudden_onset": "sudden onset, a snap or a fall",
    "open_skin": "open skin with diabetes or lost feeling in the feet",
    "stress_fracture": "suspected stress fracture",
}
"""Code of each sign and the words for it."""

REFER_WORDS = (
    "See a clinician first. A sign was reported that a shoe must not be used to treat: {signs}. "
    "A shoe can still be chosen, but not as treatment."
)

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
}


def read_stop_signs(given: Iterable[object]) -> tuple[str, ...]:
    """Codes of the stop signs, each once, in the order of the list.

    Parameters
    ----------
    given : iterable of object
        Codes or their words; capitals, spaces and hyphens do not matter.

    Returns
    -------
    tuple of str
        Keys of `STOP_SIGNS`.

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
    codes = {_read_sign(item) for item in given}
    return tuple(code for code in STOP_SIGNS if code in codes)


def refer_words(codes: Iterable[str]) -> str:
    """The sentence that sends a person to a clinician, or an empty text when there is no sign.

    Parameters
    ----------
    codes : iterable of str
        Keys of `STOP_SIGNS`.

    Returns
    -------
    str
        One caution.

    Raises
    ------
    KeyError
        When a code is not of the list.

    Examples
    --------
    >>> refer_words([])
    ''
    """
    signs = "; ".join(STOP_SIGNS[code] for code in codes)
    return REFER_WORDS.format(signs=signs) if signs else ""


def _read_sign(item: object) -> str:
    if not isinstance(item, str):
        raise TypeError(f"stop_signs must be texts such as 'swelling', got {item!r}")
    code = code_of(item)
    code = _OTHER_WORDS.get(code, code)
    if code not in STOP_SIGNS:
        raise ValueError(f"stop_signs must be of {', '.join(STOP_SIGNS)}, got {item[:60]!r}")
    return code
