"""What the staff of a store type or scan about pairs: which shoe, which size, how many."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from catalogue.domain.sizes import HOW_TO_WRITE, SIZE_EXAMPLES, SIZE_MAX_LENGTH, read_size
from catalogue.models import WIDTH_MAX_LENGTH, MovementKind, Reservation, Shoe
from catalogue.selectors.stock.stock_work import barcode_find, full_title, shoes_named, widths_of
from catalogue.services import Pairs
from core.models import Store, printable

MATCHES_SHOWN = 12
NUMBER_MOST = 2**31 - 1
# What a scanner types; a shoe's name always has a letter.
BARCODE = r"[0-9 -]{8,20}"
BOOKED = (MovementKind.RECEIVED, MovementKind.SOLD, MovementKind.RETURNED, MovementKind.WRITTEN_OFF)


class PairsForm(forms.Form):
    """Pairs of one size: the shoe by name, typed in any order of its words, or both by barcode.

    A scanner works as a keyboard: it types the number and Enter. Where several shoes match, `matches` lists them and
    `chosen` says which one is meant.
    """

    shoe = forms.CharField(
        label="Shoe or barcode",
        max_length=120,
        validators=[printable],
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "list": "shoe-names", "spellcheck": "false", "size": "32"}
        ),
    )
    chosen = forms.IntegerField(required=False, min_value=1, max_value=NUMBER_MOST, widget=forms.HiddenInput)
    size = forms.CharField(
        label="Size",
        max_length=SIZE_MAX_LENGTH,
        required=False,
        widget=forms.TextInput(attrs={"size": "10"}),
    )
    width = forms.CharField(
        label="Width",
        max_length=WIDTH_MAX_LENGTH,
        required=False,
        validators=[printable],
        widget=forms.TextInput(attrs={"size": "6"}),
    )
    quantity = forms.IntegerField(label="Pairs", min_value=1, max_value=999, initial=1)
    size_examples = SIZE_EXAMPLES
    matches: list[Shoe]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.matches = []

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if "shoe" in cleaned and "quantity" in cleaned:
            self._read_pairs(cleaned)
        return cleaned

    def _read_pairs(self, cleaned: dict[str, Any]) -> None:
        if re.fullmatch(BARCODE, cleaned["shoe"]):
            self._read_barcode(cleaned)
            return
        shoe = self._shoe(cleaned)
        if not cleaned.get("size"):
            self.add_error("size", f"{HOW_TO_WRITE}.")
            return
        try:
            size = read_size(cleaned["size"])
        except ValueError as problem:
            self.add_error("size", str(problem))
            return
        if shoe is not None:
            self._use(cleaned, Pairs(shoe, size, cleaned["quantity"]))

    def _use(self, cleaned: dict[str, Any], pairs: Pairs) -> None:
        """Take the pairs with the width that was typed, spelt as the shoe has it."""
        typed = cleaned.get("width", "")
        if not typed or pairs.width:
            cleaned["pairs"] = pairs
            return
        widths = {width.casefold(): width for width in widths_of(pairs.shoe)}
        if typed.casefold() in widths:
            cleaned["pairs"] = replace(pairs, width=widths[typed.casefold()])
            return
        offered = f"comes in {', '.join(widths.values())}" if widths else "has no width fittings stated"
        self.add_error("width", f"{full_title(pairs.shoe)} {offered}. Leave the width empty where it is not known.")

    def _read_barcode(self, cleaned: dict[str, Any]) -> None:
        try:
            known = barcode_find(cleaned["shoe"])
        except ValueError as problem:
            self.add_error("shoe", str(problem))
            return
        if known is None:
            self.add_error("shoe", "No shoe has this barcode. Type the name, or have the barcode added to the shoe.")
            return
        self._use(cleaned, Pairs(known.shoe, known.size_eu, cleaned["quantity"], known.width))

    def _shoe(self, cleaned: dict[str, Any]) -> Shoe | None:
        matches = shoes_named(cleaned["shoe"], limit=MATCHES_SHOWN)
        picked = [shoe for shoe in matches if shoe.pk == cleaned.get("chosen")]
        if len(matches) == 1 or picked:
            return (picked or matches)[0]
        self.matches = matches
        words = "Several shoes match. Choose one below." if matches else "No shoe has all of these words in its name."
        self.add_error("shoe", words)
        return None

    def match_choices(self) -> list[tuple[int, str]]:
        return [(shoe.pk, full_title(shoe)) for shoe in self.matches]


class BookForm(PairsForm):
    """Pairs that come or go."""

    kind = forms.ChoiceField(
        label="What happens",
        choices=[(kind.value, kind.label) for kind in BOOKED],
        initial=MovementKind.RECEIVED,
        widget=forms.RadioSelect,
    )
    field_order: tuple[str, ...] = ("kind", "shoe", "chosen", "size", "width", "quantity")

    def clean_kind(self) -> MovementKind:
        return MovementKind(self.cleaned_data["kind"])


class ReservationForm(PairsForm):
    """Pairs to set aside."""

    quantity = forms.IntegerField(label="Pairs", min_value=1, max_value=9, initial=1)
    until = forms.DateField(label="Until", widget=forms.DateInput(attrs={"type": "date"}))
    note = forms.CharField(
        label="For whom",
        max_length=40,
        required=False,
        validators=[printable],
        help_text="A first name or initials; nothing about health. It is removed when the reservation ends.",
    )


class ReservationEndForm(forms.Form):
    outcome = forms.ChoiceField(choices=Reservation.Outcome.choices)

    def clean_outcome(self) -> Reservation.Outcome:
        return Reservation.Outcome(self.cleaned_data["outcome"])


class HistoryFilterForm(forms.Form):
    """What the history is narrowed to."""

    q = forms.CharField(label="Shoe", max_length=80, required=False, validators=[printable], widget=forms.SearchInput)
    kind = forms.ChoiceField(label="What happened", choices=[("", "any"), *MovementKind.choices], required=False)


class TransferForm(forms.Form):
    """Which store the pairs go to."""

    to_store = forms.ModelChoiceField(Store.objects.none(), label="To", empty_label=None)

    def __init__(self, *args: Any, from_store: Store, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        target: Any = self.fields["to_store"]
        target.queryset = Store.objects.real().exclude(pk=from_store.pk)


if TYPE_CHECKING:
    _Lines = forms.BaseFormSet[PairsForm]
else:
    _Lines = forms.BaseFormSet


class TransferLineSet(_Lines):
    """The lines of a transfer; empty ones are ignored."""

    default_error_messages = {"missing_management_form": "The lines came back damaged. Reload the page."}

    def clean(self) -> None:
        if self.management_form.is_valid() and not any(self.errors) and not self.pairs():
            raise ValidationError("Name at least one shoe with its size.")

    def pairs(self) -> list[Pairs]:
        return [form.cleaned_data["pairs"] for form in self.forms if form.cleaned_data.get("pairs")]


_LineSet = forms.formset_factory(PairsForm, formset=TransferLineSet, extra=6, max_num=40, absolute_max=40)


def transfer_lines(data: QueryDict | None) -> TransferLineSet:
    return cast(TransferLineSet, _LineSet(data))


class ArrivalForm(forms.Form):
    """How many pairs of each line of a transfer arrived."""

    def __init__(self, *args: Any, lines: list[tuple[int, str, int]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for pk, label, quantity in lines:
            words = f"Write how many pairs arrived, from 0 to the {quantity} that were sent."
            self.fields[f"line-{pk}"] = forms.IntegerField(
                label=f"{label} ({quantity} sent)",
                min_value=0,
                max_value=quantity,
                initial=quantity,
                error_messages=dict.fromkeys(("invalid", "required", "min_value", "max_value"), words),
            )

    def received(self) -> dict[int, int]:
        return {int(name.removeprefix("line-")): pairs for name, pairs in self.cleaned_data.items()}
