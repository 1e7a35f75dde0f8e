"""What the outcomes are narrowed to, read from the query string."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from catalogue.selectors import BandRow
from core.models import Store, User
from fittings.domain.fitting.need import USES

GROUPED = {
    "target": "in or outside the target",
    "band": "the band chosen",
    "store": "store",
    "movement": "motion in the chosen shoe compared with barefoot",
}


class MonthField(forms.Field):
    """A month as browsers send it: "2026-03". Whole months, so that no single day can be singled out."""

    widget = forms.TextInput(attrs={"type": "month", "placeholder": "2026-03"})

    def to_python(self, value: Any) -> dt.date | None:
        if not value:
            return None
        try:
            month = dt.datetime.strptime(str(value).strip(), "%Y-%m").date()  # noqa: DTZ007  a month has no zone
        except ValueError:
            raise ValidationError("Write the month as year and month, such as 2026-03.", code="no_month") from None
        if not 1900 <= month.year <= 2200:
            raise ValidationError("The year must be between 1900 and 2200.", code="year_range")
        return month


class OutcomeFilterForm(forms.Form):
    """Period, store, band, use and fitter; `by` says what is set against each other."""

    all_optional = True
    by = forms.ChoiceField(label="Group by", required=False, choices=list(GROUPED.items()))
    since = MonthField(label="Chosen from", required=False)
    until = MonthField(label="Chosen until the end of", required=False)
    store = forms.ChoiceField(label="Store", required=False)
    band = forms.TypedChoiceField(label="Band chosen", required=False, coerce=int, empty_value=None)
    use = forms.ChoiceField(label="Shoes for", required=False, choices=[("", "any use"), *USES.items()])
    fitter = forms.TypedChoiceField(label="Fitter", required=False, coerce=int, empty_value=None)

    def __init__(
        self, *args: Any, stores: Sequence[Store], bands: Iterable[BandRow], fitters: Iterable[User], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.stores = {store.slug: store for store in stores}
        every = "all stores" if len(stores) > 1 else "own store"
        self.fields["store"].choices = [("", every), *((item.slug, item.name) for item in stores)]  # type: ignore[attr-defined]
        self.fields["band"].choices = [("", "any band"), *((item.order, item.name) for item in bands)]  # type: ignore[attr-defined]
        self.fields["fitter"].choices = [("", "any fitter"), *((item.pk, item.display_name) for item in fitters)]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        since, until = cleaned.get("since"), cleaned.get("until")
        if since and until and until < since:
            self.add_error("until", "The last month must not be before the first.")
        return cleaned

    def store_chosen(self) -> Store | None:
        return self.stores.get(self.cleaned_data["store"])

    def narrowed(self) -> dict[str, Any]:
        """What the filter of the selectors takes beside the stores."""
        wanted = {name: self.cleaned_data.get(name) for name in ("since", "band", "fitter")}
        return wanted | {"use": self.cleaned_data.get("use", ""), "until": _month_after(self.cleaned_data.get("until"))}


def _month_after(month: dt.date | None) -> dt.date | None:
    if month is None:
        return None
    return dt.date(month.year + month.month // 12, month.month % 12 + 1, 1)
