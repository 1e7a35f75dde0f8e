"""The wording that a customer agrees to.

A changed wording gets a new version; what people agreed to before stays on record.
"""

from __future__ import annotations

CONSENT_VERSION = "C2"

REQUEST_CONSENT_VERSION = "R1"
REQUEST_CONSENT_TEXT = (
    "I agree that the store saves my name and how to reach me to arrange a fitting. Both are deleted once it has "
    "answered, and at the latest 30 days after the day I asked for."
)


def consent_text(*, retention_months: int, age: int) -> str:
    """The wording in use, with the practice's own retention and age of consent.

    Parameters
    ----------
    retention_months : int
        Months without a fitting or an answer after which data is removed.
    age : int
        Years from which somebody agrees alone.

    Returns
    -------
    str
        The wording.

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> "36 months" in consent_text(retention_months=36, age=16)
    True
    """
    return (
        "I agree that this practice stores my name, my e-mail address, my telephone number and what I say and show at "
        "the fitting and later, including about pain and my feet, to recommend shoes and to ask me by e-mail or by "
        "telephone how it went. I may ask at any time to see it, to have it corrected or to have it removed. It is "
        f"removed without my asking after {retention_months} months without contact. What stays then: "
        "that a fitting took place, with its store, fitter and day, a list of what was done without my name or "
        "anything about my health, and counts of five people or more. If I ask for everything to be removed, the "
        f"fittings and counts go too. For somebody under {age} a parent or guardian agrees and is named. Without my "
        "agreement I am fitted all the same, and nothing of it is stored."
    )
