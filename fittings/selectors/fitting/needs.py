"""The rules of the need and the need of a fitting."""

from __future__ import annotations

from dataclasses import dataclass

from core.domain.errors import DomainError
from fittings.domain.fitting.need import Contribution, Need, NeedRules
from fittings.domain.fitting.rules_data import match_from_data, rules_from_data
from fittings.domain.shoes.match_rules import MatchRules
from fittings.models import Fitting
from fittings.models import NeedRules as StoredRules


@dataclass(frozen=True, slots=True)
class CurrentRules:
    """The version in use: its key, the rules of the need and those of the match."""

    pk: int
    rules: NeedRules
    match: MatchRules


def current_rules() -> CurrentRules:
    """The version of the rules that new fittings use."""
    stored = StoredRules.objects.filter(is_current=True).first()
    if stored is None:
        raise DomainError("No rules of the need are in use. Run the migrations.", code="no_rules", status=409)
    return CurrentRules(stored.pk, rules_from_data(stored.data), match_from_data(stored.match))


def need_of(fitting: Fitting) -> Need:
    """The need as it was worked out at the fitting.

    Raises
    ------
    DomainError
        409 where nothing was kept for want of consent.
    """
    if not fitting.kept or fitting.rules is None or fitting.need_low is None:
        raise DomainError(
            "This fitting was not stored, because there was no consent; its recommendations were shown at the fitting.",
            code="not_kept",
            status=409,
        )
    return Need(
        rules=fitting.rules.version,
        centre=fitting.need_centre or 0.0,
        low=fitting.need_low,
        high=fitting.need_high or 0.0,
        contributions=tuple(Contribution(item["what"], item["points"]) for item in fitting.need_contributions),
        left_out=tuple(fitting.need_left_out),
    )
