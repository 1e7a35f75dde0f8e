"""What the comparison of rigs shows: precision level by level, each rig's h and k, outliers in words, a drawing."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from core.web import display
from labtests.domain.studies.agreement import Agreement
from labtests.domain.studies.interlab import Consistency, LabResult, Precision, Verdict, precision
from labtests.forms.quantities import STUDIED, Quantity, significant, with_interval
from labtests.presentation.plots import Plot, plot_of
from labtests.selectors.studies.agreement import SpecimenAgreement
from labtests.selectors.studies.precision import Level

AGREE, DISAGREE = "agree", "disagree"
TOO_FAR_APART = "the rigs disagree more than their stated uncertainties allow"
VERDICT_CSS = {Verdict.NOTHING: "state--good", Verdict.STRAGGLER: "state--wait", Verdict.OUTLIER: "state--stop"}


@dataclass(frozen=True, slots=True)
class RigRow:
    """One rig (or laboratory) at one level."""

    name: str
    n: int
    mean: str
    sd: str
    h: str
    h_word: str
    h_css: str
    h_finds: str
    k: str
    k_word: str
    k_css: str
    k_finds: str
    values: str


@dataclass(frozen=True, slots=True)
class AgreementRow:
    """Two rigs against what they state."""

    rigs: str
    n: str
    difference: str
    expanded: str
    en: str
    word: str
    css: str
    words: str


@dataclass(frozen=True, slots=True)
class LevelSheet:
    """The precision of one level, or why there is none."""

    name: str
    problem: str
    facts: tuple[tuple[str, str], ...]
    rigs: tuple[RigRow, ...]
    words: tuple[str, ...]
    plot: Plot | None
    agreement: tuple[AgreementRow, ...] = ()


@dataclass(frozen=True, slots=True)
class PrecisionSheet:
    """All levels asked for; `summary` has a row for each that could be computed."""

    unit: str
    levels: tuple[LevelSheet, ...]
    summary: tuple[tuple[str, ...], ...]


def precision_sheet(
    levels: Sequence[Level], quantity: Quantity, system: str, *, judged: Mapping[str, SpecimenAgreement] | None = None
) -> PrecisionSheet:
    """Work the levels out; `judged` is what each specimen's rigs state, where the readings are from records."""
    sheets, summary = [], []
    for level in levels:
        pairs = judged[level.name].pairs if judged and level.name in judged else ()
        rows = tuple(_agreement_row(pair, quantity, system) for pair in pairs)
        results = {rig: [value * quantity.scale(system) for value in values] for rig, values in level.results.items()}
        try:
            found = precision(results)
        except ValueError as problem:
            sheets.append(LevelSheet(level.name, str(problem), (), (), (), None, rows))
            continue
        sheet = _level(level.name, results, found, quantity=quantity, system=system)
        sheets.append(replace(sheet, agreement=rows))
        summary.append(_summary_row(level.name, found))
    return PrecisionSheet(quantity.sign(system), tuple(sheets), tuple(summary))


def _agreement_row(pair: Agreement, quantity: Quantity, system: str) -> AgreementRow:
    scale, unit = quantity.scale(system), quantity.sign(system)

    def shown(value: float, digits: int = 3) -> str:
        return f"{significant(value * scale, digits)} {unit}".strip()

    would_show = shown(pair.could_find, 2)
    word, css = (DISAGREE, "state--stop") if pair.is_beyond else (AGREE, "state--good")
    return AgreementRow(
        rigs=f"{pair.second} less {pair.first}",
        n=f"{pair.n_second} and {pair.n_first}",
        difference=shown(pair.difference),
        expanded=shown(pair.expanded),
        en=display.MISSING if pair.en is None else display.signed(pair.en, 2),
        word=word,
        css=css,
        words=TOO_FAR_APART if pair.is_beyond else f"within what they state; would show from {would_show} on",
    )


def disagreement_lines(found: Sequence[tuple[str, SpecimenAgreement]]) -> list[str]:
    """For the lab's overview: which rigs disagree, on what."""
    return [
        f"{pair.first} and {pair.second} disagree by more than their stated uncertainties allow: {STUDIED[key].label} "
        f"of specimen {each.specimen}, E_n = {display.MISSING if pair.en is None else display.signed(pair.en, 2)}."
        for key, each in found
        for pair in each.pairs
    ]


def _summary_row(name: str, found: Precision) -> tuple[str, ...]:
    numbers = (
        found.mean,
        found.repeatability_sd,
        found.between_sd,
        found.reproducibility_sd,
        found.repeatability_limit,
        found.reproducibility_limit,
    )
    return (name, str(len(found.labs)), str(found.n), *(significant(number) for number in numbers))


def _level(
    name: str, results: dict[str, list[float]], found: Precision, *, quantity: Quantity, system: str
) -> LevelSheet:
    unit = quantity.sign(system)

    repeat, between, reproduce = found.repeatability_interval, found.between_interval, found.reproducibility_interval
    return LevelSheet(
        name=name,
        problem="",
        facts=(
            ("Mean", f"{significant(found.mean, 5)} {unit}".strip()),
            ("Repeatability, same rig", with_interval(found.repeatability_sd, repeat.low, repeat.high, unit)),
            ("Between the rigs alone", with_interval(found.between_sd, between.low, between.high, unit)),
            ("Reproducibility, two rigs", with_interval(found.reproducibility_sd, reproduce.low, reproduce.high, unit)),
            ("Limit r, same rig", f"{significant(found.repeatability_limit)} {unit}".strip()),
            ("Limit R, two rigs", f"{significant(found.reproducibility_limit)} {unit}".strip()),
        ),
        rigs=tuple(_rig_row(lab, results[lab.lab]) for lab in found.labs),
        words=tuple(_words(found, unit)),
        plot=_plot(name, results, quantity, system),
    )


def _rig_row(lab: LabResult, values: Sequence[float]) -> RigRow:
    h_word, h_css = _judged(lab.h)
    k_word, k_css = _judged(lab.k)
    return RigRow(
        name=lab.lab,
        n=lab.n,
        mean=significant(lab.mean, 5),
        sd=significant(lab.sd),
        h=display.MISSING if lab.h is None else display.signed(lab.h.statistic, 2),
        h_word=h_word,
        h_css=h_css,
        h_finds=_finds(lab.h, "would name ± {}"),
        k=display.MISSING if lab.k is None else display.number(lab.k.statistic, 2),
        k_word=k_word,
        k_css=k_css,
        k_finds=_finds(lab.k, "would name {} ×"),
        values=", ".join(significant(value, 5) for value in values),
    )


def _judged(found: Consistency | None) -> tuple[str, str]:
    return ("not known", "state--off") if found is None else (found.verdict.value, VERDICT_CSS[found.verdict])


def _finds(found: Consistency | None, words: str) -> str:
    """What the statistic would have named, where it finds nothing."""
    if found is None or found.verdict is not Verdict.NOTHING:
        return ""
    return words.format(significant(found.could_find, 2))


def _words(found: Precision, unit: str) -> list[str]:
    unit = f" {unit}" if unit else ""
    sentences = [
        f"Two tests on one rig differ by no more than {significant(found.repeatability_limit, 3)}{unit} in 95 % of "
        f"cases, tests on two rigs by no more than {significant(found.reproducibility_limit, 3)}{unit}.",
        _test_words("Cochran’s test of the largest scatter", found.cochran, "C", SCATTER.format),
        _test_words("Grubbs’ test of the farthest mean", found.grubbs, "G", lambda size: MEAN.format(f"{size}{unit}")),
    ]
    if found.between_variance_raw < 0.0:
        raw = significant(found.between_variance_raw)
        sentences.append(f"The variance between rigs came out negative ({raw}) and counts as 0.")
    if len(found.labs) < 3:
        sentences.append("With two rigs, nobody can tell which of them is off; h and Grubbs’ test need three.")
    return sentences


SCATTER = "A rig would have to scatter {} times as much as the others"
MEAN = "A rig’s mean would have to be {} from the others’"


def _test_words(name: str, found: Consistency | None, sign: str, effect: Callable[[str], str]) -> str:
    if found is None:
        return f"{name} cannot be made with these numbers."
    # Four digits: of three laboratories G cannot pass 1.155, and in three digits it would seem to have got there.
    values = f"{sign} = {significant(found.statistic)}; limits: {significant(found.critical_5)} at 5 %, "
    values += f"{significant(found.critical_1)} at 1 %"
    if found.verdict is Verdict.NOTHING:
        size = effect(significant(found.could_find, 2))
        return (
            f"{name} finds nothing ({values}). {size} to be named in 8 of 10 such comparisons; less can go unnoticed."
        )
    return f"{name} finds {found.lab} a{'n' * (found.verdict is Verdict.OUTLIER)} {found.verdict} ({values})."


def _plot(name: str, results: dict[str, list[float]], quantity: Quantity, system: str) -> Plot:
    everything = [value for values in results.values() for value in values]
    title = f"Readings of {name} by rig"
    plot = plot_of(title, ("rig", quantity.axis(system)), (), everything, names=_short(list(results)))
    means = {rig: sum(values) / len(values) for rig, values in results.items()}
    plot.level(sum(everything) / len(everything), "mean of all readings", css="plot__limit", label="mean")
    for place, (rig, values) in enumerate(results.items(), start=1):
        for value in values:
            plot.mark(place, value, f"{rig}: {significant(value, 5)}", css="dot dot--off")
        plot.mark(place, means[rig], f"mean of {rig}: {significant(means[rig], 5)}", css="dot")
    return plot


def _short(names: list[str]) -> list[str]:
    """Names for the axis: whole where they find room, else by number in the order of the table."""
    if len(names) <= 6 and all(len(name) <= 10 for name in names):
        return names
    return [str(number) for number in range(1, len(names) + 1)]
