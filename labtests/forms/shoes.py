"""A shoe that people write by its name."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import validate_slug

from catalogue.models import Shoe
from catalogue.selectors.stock_work import full_title, shoes_named
from core.models import printable

MATCHES_SHOWN = 5
SUGGESTED_MOST = 300
ADDRESS_LENGTH = 100


class ShoeField(forms.CharField):
    """A shoe by its name or, as bench files write it, by the end of its page's address; its value is that end."""

    def __init__(self, **options: Any) -> None:
        attributes = {"autocomplete": "off", "list": "shoe-names", "spellcheck": "false"}
        widget = forms.TextInput(attrs=attributes)
        super().__init__(max_length=ADDRESS_LENGTH, validators=[printable], widget=widget, **options)

    def clean(self, value: Any) -> str:
        text: str = super().clean(value)
        if not text or Shoe.objects.filter(slug=text).exists():
            return text
        matches = shoes_named(text, limit=MATCHES_SHOWN + 1)
        if len(matches) == 1:
            return matches[0].slug
        if matches:
            names = ", ".join(full_title(shoe) for shoe in matches[:MATCHES_SHOWN])
            more = " and others" if len(matches) > MATCHES_SHOWN else ""
            raise ValidationError(f"Several shoes match: {names}{more}. Write the whole name.")
        return _as_address(text)

    def prepare_value(self, value: Any) -> Any:
        """Show the name of a shoe that was given by its address."""
        text = str(value or "").replace("\x00", "")
        shoe = Shoe.objects.filter(slug=text).select_related("brand").first() if text else None
        return value if shoe is None else full_title(shoe)


def _as_address(text: str) -> str:
    """Leave an address to the service that looks it up, which says what to do where there is none."""
    try:
        validate_slug(text)
    except ValidationError:
        raise ValidationError("No shoe has all of these words in its name. Check the name, or add the shoe.") from None
    return text


def names_to_suggest() -> list[str]:
    """Return names of shoes to offer while typing: one query."""
    shoes = Shoe.objects.select_related("brand").filter(merged_into__isnull=True).order_by("brand__name", "name")
    return [full_title(shoe) for shoe in shoes[:SUGGESTED_MOST]]
