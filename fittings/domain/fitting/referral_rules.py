"""The rules that say when somebody is advised to see a licensed clinician, as data: versions of the practice's own."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, fields

from core.domain.quoting import quoted
from fittings.domain.bounds import whole_within
from fittings.domain.fitting.stop_signs import STOP_SIGNS
from fittings.domain.regions import REGIONS, code_of

OWN_SIGNS_MAX = 20
OWN_WORDS_MAX = 120
OWN_PREFIX = "own_"
_CODE_MAX = 30
RANGES: dict[str, tuple[int, int]] = {
    "pain_now_from": (1, 10),
    "pain_weeks_above": (0, 52),
    "answer_pain_from": (1, 10),
    "answer_days_off_from": (1, 366),
    "look_after_days": (1, 30),
}
"""What is accepted for each number, both edges included."""


@dataclass(frozen=True, slots=True)
class OwnSign:
    """A stop sign that the practice added."""

    code: str
    words: str


@dataclass(frozen=True, slots=True)
class ReferralRules:
    """One version of the rules.

    Parameters
    ----------
    version : str
        Its name.
    pain_now_from : int
        Lowest pain at a fitting, 0 to 10, that is referred.
    pain_now_regions : tuple of str
        Regions, keys of `REGIONS`, in which any pain now is referred.
    pain_weeks_above : int
        Weeks; pain now that has lasted longer is referred.
    answer_pain_from : int
        Lowest pain in a follow-up's answer, 0 to 10, that is referred.
    answer_days_off_from : int
        Fewest days without running, walking or work in a follow-up's answer that are referred.
    answer_on_recurrence : bool
        Whether a complaint that came back is referred.
    look_after_days : int
        Days within which somebody of the store looks after such an answer.
    own_signs : tuple of OwnSign
        Stop signs of the practice, asked after the standard ones.
    """

    version: str
    pain_now_from: int
    pain_now_regions: tuple[str, ...]
    pain_weeks_above: int
    answer_pain_from: int
    answer_days_off_from: int
    answer_on_recurrence: bool
    look_after_days: int
    own_signs: tuple[OwnSign, ...] = ()

    @property
    def signs(self) -> dict[str, str]:
        """Code and words of every stop sign that is asked about."""
        return STOP_SIGNS | {sign.code: sign.words for sign in self.own_signs}


R1 = ReferralRules(
    version="R1",
    pain_now_from=5,
    pain_now_regions=("heel", "inner_shin", "front_of_knee"),
    pain_weeks_above=3,
    answer_pain_from=5,
    answer_days_off_from=7,
    answer_on_recurrence=True,
    look_after_days=2,
)
"""The rules that every installation starts with. Common practice, no source."""


def own_signs_of(lines: Iterable[str]) -> tuple[OwnSign, ...]:
    """Signs of the practice from the words they are asked in; the code follows from the words.

    Parameters
    ----------
    lines : iterable of str
        One sign each; empty ones are skipped.

    Returns
    -------
    tuple of OwnSign
        In the order given.

    Raises
    ------
    ValueError
        When a line holds no letter or digit, is too long, occurs twice, or there are too many.

    Examples
    --------
    >>> own_signs_of(["Chest pain on stairs", ""])[0].code
    'own_chest_pain_on_stairs'
    """
    signs: dict[str, OwnSign] = {}
    for line in lines:
        words = " ".join(line.split())
        if not words:
            continue
        code = OWN_PREFIX + code_of(words)[: _CODE_MAX - len(OWN_PREFIX)].strip("_")
        _check_own(code, words)
        if code in signs:
            raise ValueError(f"two stop signs begin alike: {quoted(words)}; word them differently")
        signs[code] = OwnSign(code, words)
    if len(signs) > OWN_SIGNS_MAX:
        raise ValueError(f"own stop signs must be at most {OWN_SIGNS_MAX}, got {len(signs)}")
    return tuple(signs.values())


def referral_to_data(rules: ReferralRules) -> dict[str, object]:
    """Referral rules as plain data.

    Parameters
    ----------
    rules : ReferralRules
        A version.

    Returns
    -------
    dict
        What `referral_from_data` reads.

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> referral_to_data(R1)["pain_now_from"]
    5
    """
    data = asdict(rules)
    return data | {"pain_now_regions": list(rules.pain_now_regions), "own_signs": list(data["own_signs"])}


def referral_from_data(data: Mapping[str, object]) -> ReferralRules:
    """Referral rules from plain data.

    Parameters
    ----------
    data : mapping
        One entry a field; `own_signs` may be left out.

    Returns
    -------
    ReferralRules
        Checked rules.

    Raises
    ------
    TypeError, ValueError
        When an entry is missing, unknown, of the wrong kind or out of range; the message names it.

    Examples
    --------
    >>> referral_from_data(referral_to_data(R1)) == R1
    True
    """
    names = {field.name for field in fields(ReferralRules)}
    data = {"own_signs": [], **data}
    if set(data) != names:
        wrong = ", ".join(sorted(set(data) ^ names))
        raise ValueError(f"referral rules must have each of {', '.join(sorted(names))}; missing or unknown: {wrong}")
    version, recurrence = data["version"], data["answer_on_recurrence"]
    if not isinstance(version, str) or not version.strip():
        raise ValueError(f"version must be a text, got {version!r}")
    if not isinstance(recurrence, bool):
        raise TypeError(f"answer_on_recurrence must be true or false, got {recurrence!r}")
    numbers = {name: whole_within(name, data[name], low, high) for name, (low, high) in RANGES.items()}
    return ReferralRules(
        version=version,
        pain_now_regions=_regions(data["pain_now_regions"]),
        answer_on_recurrence=recurrence,
        own_signs=_own_signs(data["own_signs"]),
        **numbers,
    )


def _check_own(code: str, words: str) -> None:
    if code == OWN_PREFIX:
        raise ValueError(f"a stop sign needs words in Latin letters or digits, got {quoted(words)}")
    if len(words) > OWN_WORDS_MAX:
        raise ValueError(f"a stop sign must have at most {OWN_WORDS_MAX} characters, got {len(words)}")
    if not words.isprintable():
        raise ValueError("a stop sign must be printable text")


def _regions(value: object) -> tuple[str, ...]:
    if not isinstance(value, (list, tuple)):
        raise TypeError(f"pain_now_regions must be a list, got {value!r}")
    for item in value:
        if item not in REGIONS:
            raise ValueError(f"pain_now_regions must be of {', '.join(REGIONS)}, got {item!r}")
    return tuple(region for region in REGIONS if region in value)


def _own_signs(value: object) -> tuple[OwnSign, ...]:
    if not isinstance(value, (list, tuple)):
        raise TypeError(f"own_signs must be a list, got {value!r}")
    words = []
    for item in value:
        if not isinstance(item, Mapping) or set(item) != {"code", "words"} or not isinstance(item["words"], str):
            raise ValueError(f"own_signs must have code and words, got {item!r}")
        words.append(item["words"])
    signs = own_signs_of(words)
    if [sign.code for sign in signs] != [item["code"] for item in value]:
        raise ValueError("own_signs must have the codes that follow from their words")
    return signs
