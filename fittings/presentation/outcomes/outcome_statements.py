"""Each statistic of the outcomes as its number, one plain sentence, and how it was calculated."""

from __future__ import annotations

from dataclasses import dataclass

from core.web import display
from core.web.display import NO_BREAK, number
from fittings.domain.outcomes.comparisons import Estimate, RateRatio
from fittings.domain.outcomes.onset import OnsetTest
from fittings.domain.outcomes.survival import LogRank
from fittings.selectors.outcomes.courses import MARK_WEEKS
from fittings.selectors.outcomes.outcome_groups import Comparison, Group
from fittings.selectors.outcomes.outcomes import Outcomes

HIDDEN_COUNT = "hidden, because a count is small"
BY_PERSON = (
    "Where somebody has several complaints, the limits are widened by the design effect by person (Kish 1965): how "
    "many times larger the variance of the recurrences per km is by person than for independent complaints."
)
TOO_FEW = "too few recurrences to say (fewer than 10 in a group)"


@dataclass(frozen=True, slots=True)
class Statement:
    """A statistic: its name, the number with its interval, a sentence for somebody without statistics, the method."""

    name: str
    value: str
    sentence: str
    how: str


@dataclass(frozen=True, slots=True)
class LossLine:
    """A group's share free of recurrence, beside what it would be if those lost had all stayed free, or none."""

    name: str
    lost: str
    weeks: str
    main: str
    best: str
    worst: str
    weighted: str


def p_words(p: float) -> str:
    return "p < 0.001" if p < 0.001 else f"p = {p:.3f}"


def comparison_statements(outcomes: Outcomes) -> tuple[Statement, ...]:
    """In the target against outside, and the test of all groups, whatever they are."""
    if not outcomes.compares:
        return (_test(outcomes),)
    found = outcomes.comparison
    return (_difference(found), _ratio(found), _rates(outcomes), _mean(found), _test(outcomes))


def _difference(found: Comparison | None) -> Statement:
    estimate, sentence = (
        found.difference if found else None,
        "How many more or fewer of 100 complaints came back.",
    )
    if found and not found.too_few and estimate and estimate.value is not None:
        sentence = (
            f"Of 100 complaints of people who chose in their target, {_more_or_fewer(100 * estimate.value)} were back "
            f"by the {found.weeks}-week follow-up {_than(estimate.value)} of 100 of people who chose outside it."
        )
    how = (
        "Difference of the shares with a recurrence by that follow-up, read off the curves, so that each complaint "
        "counts for as long as it was watched. Limits: those of the two curves, squared and added (Newcombe 1998, "
        "Zou and Donner 2008). "
        f"{BY_PERSON}"
    )
    value = _percentage_points(estimate, found)
    return Statement(f"Difference{_by(found)}", value, sentence, how)


def _ratio(found: Comparison | None) -> Statement:
    estimate = found.ratio if found else None
    sentence = "How many times as many complaints came back."
    if found and not found.too_few and estimate and estimate.value is not None:
        sentence = (
            f"By the {found.weeks}-week follow-up complaints were back {number(estimate.value, 2)} times as often "
            "among people who chose in their target as among the others. 1 means equally often."
        )
    how = "Ratio of the same two shares; limits as for the difference, on the log scale."
    return Statement(f"Ratio{_by(found)}", _times(estimate, found), sentence, how)


def _rates(outcomes: Outcomes) -> Statement:
    ratio = outcomes.comparison.rates if outcomes.comparison else None
    few = any((group.rate.events if group.rate else 0) < 10 for group in outcomes.groups)
    value, sentence = HIDDEN_COUNT, "How many times as many recurrences there were over the same distance."
    if outcomes.comparison is not None:
        value = TOO_FEW if few else "no distance known" if ratio is None else _rate_words(ratio)
    if ratio is not None and ratio.value is not None and not few:
        sentence = (
            f"Over the same distance, people who chose in their target had {number(ratio.value, 2)} times as many "
            "recurrences as the others. 1 means equally many."
        )
    how = (
        "Ratio of the rates per 1000 km. The interval is exact: given how many recurrences there were in all, those of "
        "one group are binomial (central conditional interval). Where somebody has several complaints, it is "
        "widened to the limits of the robust (sandwich) variances by person."
    )
    return Statement("Ratio over the same distance", value, sentence, how)


def _mean(found: Comparison | None) -> Statement:
    estimate, sentence = (
        found.mean if found else None,
        "How much longer complaints stayed away on average.",
    )
    if found and not found.too_few and estimate and estimate.value is not None:
        longer = "longer" if estimate.value >= 0 else "shorter"
        sentence = (
            f"In the first {found.weeks} weeks, complaints of people who chose in their target stayed away "
            f"{number(abs(estimate.value), 1)} weeks {longer} on average than those of the others."
        )
    how = (
        "Difference of the restricted mean times: the areas below the two curves, each recurrence at its report "
        "(Kaplan-Meier, Greenwood variance, normal limits). "
        f"{BY_PERSON}"
    )
    value = HIDDEN_COUNT if found is None else _or_why(estimate, found)
    if found and not found.too_few and estimate and estimate.value is not None:
        value = f"{number(estimate.value, 1)} weeks ({number(estimate.low, 1)} to {number(estimate.high, 1)})"
    return Statement(f"Time free of the complaint{_by(found)}", value, sentence, how)


def _test(outcomes: Outcomes) -> Statement:
    sentence = "Whether a difference as large as this would often come up by chance alone."
    value, test = _test_words(outcomes), outcomes.test
    how = "Log-rank test for recurrences that came between two follow-ups (Finkelstein 1986, permutation variance). "
    how += "Where somebody has several complaints, χ² is divided by the largest design effect by person of the groups "
    how += "(Rao and Scott 1981)."
    if value.startswith("p") and test is not None and test.p is not None:
        sentence = (
            f"If the groups were truly alike, a difference at least as large would come up by chance in about "
            f"{_of_100(test.p)} of 100 such comparisons."
        )
        how += f" {_chi_squared(test)}."
        if outcomes.day_test and outcomes.day_test.chi_squared is not None and outcomes.day_test.p is not None:
            how += f" By the day of the report (Mantel): {_chi_squared(outcomes.day_test)}, "
            how += f"{p_words(outcomes.day_test.p)}."
    return Statement("Could it be chance?", value, sentence, how)


def _test_words(outcomes: Outcomes) -> str:
    if outcomes.test is None:
        return HIDDEN_COUNT if outcomes.hides else "nothing to compare"
    if any((group.recurrences or 0) < 10 for group in outcomes.groups):
        return TOO_FEW
    if outcomes.test.chi_squared is None or outcomes.test.p is None:
        return "nothing to compare"
    return p_words(outcomes.test.p)


def loss_line(group: Group) -> LossLine | None:
    """None where nobody was lost, or it is hidden."""
    loss = group.loss
    if loss is None:
        return None
    main = group.readings[MARK_WEEKS.index(loss.weeks)]
    shown = "" if main is None else _share(Estimate(main.share, main.low, main.high, ""))
    return LossLine(
        group.name,
        "" if loss.lost is None else str(loss.lost),
        f"{loss.weeks} weeks",
        shown,
        *(_share(estimate) for estimate in (loss.best, loss.worst, loss.weighted)),
    )


def _share(estimate: Estimate) -> str:
    if estimate.value is None:
        return estimate.note
    low, high = (number(100 * (part or 0.0), 0) for part in (estimate.low, estimate.high))
    return f"{number(100 * estimate.value, 0)}{NO_BREAK}% ({low} to {high})"


def _by(found: Comparison | None) -> str:
    return "" if found is None or found.weeks is None else f" by week {found.weeks}"


def _or_why(estimate: Estimate | None, found: Comparison) -> str:
    if found.weeks is None:
        return found.difference.note
    return TOO_FEW if found.too_few or estimate is None else estimate.note


def _percentage_points(estimate: Estimate | None, found: Comparison | None) -> str:
    if found is None:
        return HIDDEN_COUNT
    if found.too_few or estimate is None or estimate.value is None:
        return _or_why(estimate, found)
    value, low, high = (number(100 * (part or 0.0)) for part in (estimate.value, estimate.low, estimate.high))
    return f"{value} percentage points ({low} to {high})"


def _times(estimate: Estimate | None, found: Comparison | None) -> str:
    if found is None:
        return HIDDEN_COUNT
    if found.too_few or estimate is None or estimate.value is None:
        return _or_why(estimate, found)
    high = "no upper limit" if estimate.high is None else number(estimate.high, 2)
    return f"{number(estimate.value, 2)} ({number(estimate.low, 2)} to {high})"


def _rate_words(ratio: RateRatio) -> str:
    high = "no upper limit" if ratio.high is None else number(ratio.high, 2)
    return f"{number(ratio.value, 2)} ({number(ratio.low, 2)} to {high}), {p_words(ratio.p)}"


def _more_or_fewer(points: float) -> str:
    rounded = round(abs(points))
    if rounded == 0:
        return "about as many"
    return f"about {rounded} {'more' if points > 0 else 'fewer'}"


def _than(difference: float) -> str:
    return "than" if round(abs(100 * difference)) else "as"


def _of_100(p: float) -> str:
    return "fewer than 1" if p < 0.01 else str(round(100 * p))


def _chi_squared(test: OnsetTest | LogRank) -> str:
    freedom = display.count(test.degrees, "degree", "degrees")
    return f"χ² {number(test.chi_squared, 2)} with {freedom} of freedom"
