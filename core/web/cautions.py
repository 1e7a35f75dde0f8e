"""The cautions of pages, cards and the API: in full, and in few words for wall cards."""

from __future__ import annotations

NOT_TREATMENT = "Not a diagnosis or a treatment, and no promise of fewer injuries."
TRIALS_DISAGREE = (
    "Published trials of matching shoes to foot type disagree: most found no difference in injuries, a few found some."
)
SEE_A_CLINICIAN = "For pain that lasts, comes back or wakes you, see a licensed clinician."
LOCAL_RULES = "Local rules and your clinician’s advice come first."
HEALTH_DATA = "Local rules on health data apply to what is recorded here."
SHOE_NOT_PERSON = (
    "A score describes how a new shoe in one size behaved on the test bench at room temperature, "
    "not how it will feel or how long it will last."
)
COMMON_PRACTICE = "The advice on which runner a band suits is common practice in the trade and has no published source."
ASSOCIATION_ONLY = "These are observations of people who chose their own shoes: they show association, not cause."

_FIRST = (NOT_TREATMENT, TRIALS_DISAGREE, SEE_A_CLINICIAN, LOCAL_RULES)
CAUTIONS: dict[str, tuple[str, ...]] = {
    "score": (*_FIRST, SHOE_NOT_PERSON, COMMON_PRACTICE),
    "need": (*_FIRST, HEALTH_DATA, COMMON_PRACTICE),
    "recommendation": (*_FIRST, HEALTH_DATA, COMMON_PRACTICE),
    "outcome": (*_FIRST, ASSOCIATION_ONLY, HEALTH_DATA),
    "method": (*_FIRST, SHOE_NOT_PERSON, COMMON_PRACTICE, HEALTH_DATA),
}


_IN_BRIEF = {
    NOT_TREATMENT: "No diagnosis, no treatment, no promise of fewer injuries.",
    TRIALS_DISAGREE: "Published trials of matching shoes to feet disagree.",
    SEE_A_CLINICIAN: "Pain that lasts, comes back or wakes you: see a licensed clinician.",
    LOCAL_RULES: "Local rules and your clinician come first.",
    SHOE_NOT_PERSON: "Scores are of a new shoe on a test bench.",
    COMMON_PRACTICE: "Whom a band suits is common practice, without a published source.",
}


def cautions(topic: str = "score") -> tuple[str, ...]:
    """Return the cautions to show beside a topic; the first three are shown everywhere."""
    return CAUTIONS[topic]


def cautions_in_brief(topic: str = "score") -> tuple[str, ...]:
    """Return the same cautions in few words, none left out, where a wall card has no room for more."""
    return tuple(_IN_BRIEF.get(line, line) for line in cautions(topic))
