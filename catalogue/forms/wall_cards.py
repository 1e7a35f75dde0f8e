"""What a manager sends of a store's shoes: which to see, which wall cards to print and how."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from django import forms
from django.http import QueryDict

from catalogue.models import CardsPerSheet, Paper
from catalogue.selectors import BandRow
from catalogue.selectors.stock.walls import CARD_STATES, HERE, SCOPES, WallFilter
from core.models import printable


class WallFilterForm(forms.Form):
    """What the list of a store's shoes is narrowed to; what can't be read narrows nothing, and the form says so."""

    usual: ClassVar[Mapping[str, str]] = {"scope": HERE}

    scope = forms.ChoiceField(label="Shoes", choices=list(SCOPES.items()), required=False)
    band = forms.TypedChoiceField(label="Band", coerce=int, empty_value=None, required=False)
    q = forms.CharField(label="Search", max_length=80, required=False, validators=[printable], widget=forms.SearchInput)

    def __init__(self, data: QueryDict, bands: Sequence[BandRow]) -> None:
        # What is not asked for is shown as what it means.
        read = data.copy()
        for name, value in self.usual.items():
            read.setdefault(name, value)
        super().__init__(read)
        chosen: Any = self.fields["band"]
        chosen.choices = [("", "any"), *((band.order, band.name) for band in bands)]

    def wanted(self) -> WallFilter:
        self.is_valid()
        read = self.cleaned_data
        return WallFilter(
            scope=read.get("scope") or HERE,
            band=read.get("band"),
            q=read.get("q", ""),
            card=read.get("card", ""),
        )


class CardFilterForm(WallFilterForm):
    card = forms.ChoiceField(label="Wall card", choices=[("", "any"), *CARD_STATES.items()], required=False)


class PrintForm(forms.Form):
    """How wall cards are to be printed."""

    paper = forms.ChoiceField(label="Paper", choices=Paper.choices, initial=Paper.A4)
    cards_per_sheet = forms.TypedChoiceField(
        label="Cards on a sheet", coerce=int, choices=CardsPerSheet.choices, initial=CardsPerSheet.FOUR
    )


def chosen_shoes(data: QueryDict) -> list[int]:
    """Return the shoes that were ticked; what is no number names no shoe."""
    return [int(text) for text in data.getlist("shoe") if re.fullmatch(r"\d{1,9}", text, re.ASCII)]
