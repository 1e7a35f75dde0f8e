"""One shoe, and the scale, explained."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from django.urls import reverse

from catalogue.domain.published_trials import EVIDENCE
from catalogue.domain.sizes import EU
from catalogue.models import Wearer
from catalogue.presentation.shoe_records import WEARERS, insole_text, price_text, size_run_text
from catalogue.presentation.sizes import run_text
from catalogue.presentation.words import SCORE_MEANINGS, SCORE_NAMES, USE_NAMES, version_text
from catalogue.selectors import BandRow, Score, ShoeRow
from catalogue.selectors.public import method
from catalogue.selectors.public.shoes import ModelInUse, PastCard, Rank
from core.web import display

# Of the band's probability, as the lab decides it: below, the band beside it is named.
BORDERLINE_BELOW = 0.80


@dataclass(frozen=True, slots=True)
class StoreStock:
    """What a store has of a shoe, its sizes in one line; `known` says since when, "" where that is not known."""

    store: str
    url: str
    sizes: str
    known: str


@dataclass(frozen=True, slots=True)
class BandLine:
    """A band of the scale, in words."""

    order: int
    name: str
    reach: str
    suits: str
    mass: str
    shoes: int
    url: str


@dataclass(frozen=True, slots=True)
class ScoreText:
    """One score of a shoe, explained."""

    name: str
    meaning: str
    score: Score
    uncertainty: str
    standing: str
    coverage: str


def uncertainty_text(score: Score) -> str:
    """Say what the uncertainty of a score means."""
    u = score.expanded_uncertainty
    if u is None:
        return "Its uncertainty is not known."
    ends = f"{display.number(score.value - u)} and {display.number(score.value + u)}"
    return f"The true value is between {ends}, about 19 times in 20."


def coverage_text(score: Score) -> str:
    """Say how the expanded uncertainty came about: "u = 0.26, k = 2.09 for 21 degrees of freedom, U = k u = 0.54"."""
    u, k, expanded = score.u, score.coverage_factor, score.expanded_uncertainty
    if u is None or k is None or expanded is None:
        return "not known"
    return (
        f"u = {display.number(u, 2)}, k = {display.short(k)} for {display.freedom(score.degrees_of_freedom)}, "
        f"U = k u = {display.number(expanded, 2)}"
    )


def readings(shoe: ShoeRow, procedure: method.Procedure | None, units: str) -> list[tuple[str, str]]:
    """Return what was read on the bench for the scores, as the lab turns them back; empty without a lab."""
    lab = method.lab()
    if lab is None or procedure is None:
        return []
    scores = {name: method.Reading(score.value, score.expanded_uncertainty) for name, score in shoe.scores().items()}
    return list(lab.readings(units, procedure, shoe.scoring_model, scores))


@dataclass(frozen=True, slots=True)
class EvidenceLine:
    """One published result, in words."""

    source: str
    people: str
    contrast: str
    ratio: str
    said: str


def evidence_lines() -> list[EvidenceLine]:
    return [
        EvidenceLine(
            f"{line.source} ({line.year})",
            line.people,
            line.contrast,
            display.MISSING
            if line.ratio is None
            else f"{display.number(line.ratio, 2)} ({display.number(line.low, 2)} to {display.number(line.high, 2)})",
            line.said,
        )
        for line in EVIDENCE
    ]


def standing_text(rank: Rank) -> str:
    """Say where a score ranks among the other published shoes."""
    if not rank.others:
        return "The only published shoe so far."
    if not rank.lower:
        return f"Lowest of {display.count(rank.others + 1, 'published shoe')}."
    if rank.lower == rank.others:
        return f"Highest of {display.count(rank.others + 1, 'published shoe')}."
    return f"Higher than {rank.lower} of the {display.count(rank.others, 'other published shoe')}."


def score_texts(shoe: ShoeRow, ranks: Mapping[str, Rank]) -> list[ScoreText]:
    return [
        ScoreText(
            SCORE_NAMES[name],
            SCORE_MEANINGS[name],
            score,
            uncertainty_text(score),
            standing_text(ranks[name]),
            coverage_text(score),
        )
        for name, score in shoe.scores().items()
    ]


def band_notes(shoe: ShoeRow) -> list[str]:
    """Say how sure the band is."""
    band = shoe.band
    notes = []
    if band.probability is None:
        notes.append("How probable this band is cannot be said: the uncertainty of the score is not known.")
    elif display.is_in_doubt(band.probability):
        notes.append(
            f"With the uncertainty of the measurement, the probability that the true score is in {band.name} is "
            f"{display.probability(band.probability)}."
        )
    else:
        notes.append(f"With the uncertainty of the measurement, {band.name} is at least 95 % probable.")
    if band.borderline:
        is_unsure = band.probability is not None and band.probability < BORDERLINE_BELOW
        why = "this probability is below 80 %" if is_unsure else "the score is too near a limit of its band"
        other = f": it could equally be in {band.neighbour}" if band.neighbour else ""
        notes.append(f"Borderline means that {why}{other}. Treat the shoe as between the two.")
    if band.provisional:
        notes.append(
            f"Provisional means that only {display.count(shoe.specimens, 'specimen')} of this shoe was tested, so how "
            "much pairs differ from each other is not known yet."
        )
    return notes


def measured_facts(shoe: ShoeRow) -> list[tuple[str, str]]:
    """Say what was measured, when, on how many and by which rules."""
    return [
        ("Tested", display.day(shoe.tested_on)),
        ("Specimens", str(shoe.specimens)),
        ("Test protocol", version_text(shoe.protocol)),
        ("Scoring model", version_text(shoe.scoring_model)),
        ("Scale of bands", version_text(shoe.scale)),
        ("Published", display.day(shoe.published_at)),
    ]


def history_lines(cards: Sequence[PastCard]) -> list[PastCard]:
    return [replace(card, scoring_model=version_text(card.scoring_model)) for card in cards]


def in_use_lines(models: Sequence[ModelInUse]) -> list[str]:
    """Say which protocol, scoring model and scale published scores come from."""
    return [
        f"protocol {version_text(model.protocol)}, scoring model {version_text(model.scoring_model)}, "
        f"scale {version_text(model.scale)}"
        for model in models
    ]


def formula_sets(sets: Sequence[method.FormulaSet]) -> list[method.FormulaSet]:
    return [replace(formulas, model=version_text(formulas.model)) for formulas in sets]


def shoe_facts(shoe: ShoeRow, units: str) -> list[tuple[str, str]]:
    """Return what is stated of a shoe: the measures always, the rest where it is known."""
    measures = [
        ("Mass", display.measure(shoe.mass_g, "mass", units)),
        ("Drop", display.measure(shoe.drop_mm, "length", units)),
        ("Stack, heel", display.measure(shoe.stack_heel_mm, "length", units)),
        ("Stack, forefoot", display.measure(shoe.stack_forefoot_mm, "length", units)),
    ]
    return [("Made for", USE_NAMES[shoe.use]), *measures, *_known_facts(shoe)]


def _known_facts(shoe: ShoeRow) -> list[tuple[str, str]]:
    is_measured_in_one = shoe.stated_size_eu is not None
    facts = [
        ("Mass and stacks for size", display.size(shoe.stated_size_eu) if is_measured_in_one else ""),
        ("For whom", WEARERS[shoe.wearer] if shoe.wearer != Wearer.ALL else ""),
        ("Sizes made", size_run_text(shoe)),
        ("Width fittings", ", ".join(shoe.widths)),
        ("Insole", insole_text(shoe.removable_insole)),
        ("Season", shoe.season),
        ("List price", price_text(shoe.list_prices)),
    ]
    return [(name, value) for name, value in facts if value not in ("", display.MISSING)]


def stock_lines(shoe: ShoeRow, system: str = EU) -> list[StoreStock]:
    """Say which sizes each store has, in the reader's system, and when the store last recorded a change of them."""
    return [
        StoreStock(
            store.name,
            reverse("catalogue:store-detail", args=[store.slug]),
            run_text(store.sizes, system),
            display.day(store.known_at) if store.known_at else "",
        )
        for store in shoe.stores
    ]


def band_lines(bands: Sequence[BandRow]) -> list[BandLine]:
    """Write the scale: where each band begins and ends."""
    return [
        BandLine(
            order=band.order,
            name=band.name,
            reach=_reach(band),
            suits=band.suits,
            mass=display.measure(band.runner_mass_max_kg, "body_mass") if band.runner_mass_max_kg else "",
            shoes=band.shoes,
            url=f"{reverse('catalogue:shoe-list')}?band={band.order}",
        )
        for band in bands
    ]


def _reach(band: BandRow) -> str:
    if band.lower is None:
        return "any score" if band.upper is None else f"below {display.number(band.upper, 0)}"
    return f"{display.number(band.lower, 0)} " + (
        "and above" if band.upper is None else f"to below {display.number(band.upper, 0)}"
    )
