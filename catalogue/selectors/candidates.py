"""The measured shoes that a fitting chooses among."""

from __future__ import annotations

from collections.abc import Sequence

from catalogue.selectors.rows import ShoeRow, current_cards, shoe_rows

# A fitting needs what a page needs: the scores with their uncertainties, the band with its rule, the stock by store.
Candidate = ShoeRow


def candidates(
    *,
    uses: Sequence[str] = (),
    stability_between: tuple[float, float] | None = None,
    slugs: Sequence[str] = (),
    limit: int | None = None,
) -> list[Candidate]:
    """Return published shoes by stability, with the sizes in stock in every store: two queries.

    Parameters
    ----------
    uses : only shoes made for one of these uses
    stability_between : only shoes whose published stability lies in this interval, ends included
    slugs : only these shoes
    limit : how many at most
    """
    cards = current_cards().order_by("stability", "shoe__slug")
    if uses:
        cards = cards.filter(shoe__use__in=uses)
    if stability_between is not None:
        cards = cards.filter(stability__range=stability_between)
    if slugs:
        cards = cards.filter(shoe__slug__in=slugs)
    return shoe_rows(cards if limit is None else cards[:limit])
