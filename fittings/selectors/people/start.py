"""Where a visitor could start: a range of the stability scale by the rules in use, and published shoes in it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from catalogue import selectors as catalogue
from catalogue.selectors import ShoeRow
from fittings.domain.fitting.need import Need, Person, assess
from fittings.domain.shoes.matching import USES_ACCEPTED, Suggestion, Wish, match
from fittings.selectors.fitting.needs import current_rules
from fittings.selectors.fitting.recommendations import arrays_of

SHOWN = 6
NO_STORE = 0


@dataclass(frozen=True, slots=True)
class StartingShoe:
    """A shoe of the range; the row has the stock of every store in the size and its neighbours."""

    suggestion: Suggestion
    shoe: ShoeRow


@dataclass(frozen=True, slots=True)
class Worn:
    """The shoe that somebody wears, by the words they wrote: None where no published shoe or several have the name."""

    name: str
    shoe: ShoeRow | None
    is_ambiguous: bool = False


@dataclass(frozen=True, slots=True)
class Start:
    """The range, and shoes near the visitor in it; `nothing_in_range` where they are the nearest outside it."""

    need: Need
    shoes: tuple[StartingShoe, ...]
    nothing_in_range: bool


def start_for(person: Person, *, size_eu: Decimal | None) -> Start:
    """Work out a visitor's range and rank the published shoes for it: four queries, however many shoes. Stores nothing.

    Shoes that some store holds in the size come first, then those that lie in the range most probably.
    """
    rules = current_rules()
    need = assess(person, rules.rules)
    mass = person.body_mass_kg if person.use == "running" else None
    question = catalogue.Question(
        NO_STORE, need.low, need.high, uses=USES_ACCEPTED[person.use], size_eu=size_eu, body_mass_kg=mass
    )
    shoes = catalogue.candidates(question)
    found = arrays_of(shoes)
    wish = Wish(need.low, need.high, person.use, body_mass_kg=person.body_mass_kg)
    # For a visitor every store is as good as another.
    matched = match(replace(found, here=found.sister, sister=found.here), wish, limit=SHOWN, rules=rules.match)
    ids = [shoes[item.index].shoe_id for item in matched.results]
    rows = catalogue.candidate_rows(ids, sizes=None if size_eu is None else (size_eu, size_eu))
    return Start(
        need,
        tuple(StartingShoe(item, rows[shoes[item.index].shoe_id]) for item in matched.results),
        matched.nothing_in_range,
    )


def worn_named(words: str) -> Worn | None:
    """Find the published shoe that the words name: three queries at most; None without words."""
    if not words:
        return None
    found = catalogue.shoe_ids_named(words)[:2]
    if len(found) != 1:
        return Worn(words, None, is_ambiguous=len(found) > 1)
    return Worn(words, next(iter(catalogue.candidate_rows(found, sizes=None).values()), None))
