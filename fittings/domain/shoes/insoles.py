"""Insoles and orthoses that somebody wears, and which shoes take them."""

from __future__ import annotations

NONE, INSOLE, ORTHOSIS = "none", "insole", "orthosis"

INSOLES = {NONE: "nothing", INSOLE: "insole", ORTHOSIS: "orthosis by a clinician"}
"""What may be worn in the shoe; the empty text is for not asked."""


def insole_warning(insole: str, removable_insole: bool | None) -> str:
    """What is to be said of a shoe to somebody who wears an insole or an orthosis.

    Parameters
    ----------
    insole : str
        A key of `INSOLES`, or empty where it was not asked.
    removable_insole : bool or None
        Whether the shoe's own insole can be taken out; None where it is not known.

    Returns
    -------
    str
        Empty where nothing is to be said. An orthosis takes the room of the shoe's own insole: where that can't be
        taken out, or where it is not known, this is said; a thin insole may lie on top.

    References
    ----------
    .. [1] Common practice, no source; the clinician who made an orthosis decides.

    Examples
    --------
    >>> insole_warning("orthosis", False)
    "The orthosis does not fit: this shoe's own insole can't be taken out"
    >>> insole_warning("none", False)
    ''
    """
    if insole not in (INSOLE, ORTHOSIS):
        return ""
    if removable_insole is None:
        return f"Not known whether this shoe’s own insole can be taken out: try the {insole} in it"
    if removable_insole:
        return ""
    if insole == ORTHOSIS:
        return "The orthosis does not fit: this shoe’s own insole can’t be taken out"
    return "This shoe’s own insole can’t be taken out: the insole takes up room on top of it"
