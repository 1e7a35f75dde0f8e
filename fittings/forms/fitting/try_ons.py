"""The sections of the shoes: those tried on, and the one chosen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django import forms

from catalogue.domain.sizes import SIZE_MAX_LENGTH
from catalogue.models import WIDTH_MAX_LENGTH, ScoreCard, Shoe
from fittings.domain.shoes.sizing import read_eu_size, size_said
from fittings.domain.shoes.widths import width_remark
from fittings.forms.fields import TRY_ROWS, ZERO_TO_TEN, ShoeNameField, pick_field
from fittings.forms.fitting.section import Section, SectionForm
from fittings.models import SectionName
from fittings.selectors.fitting.shoe_names import NamedShoe, shoes_by_text
from fittings.services.fitting.choice import REASON_MAX

SIZE_SYSTEM = "foot-size_system"
"""The field that says in which system the customer says sizes."""
STORE_SIZES = "sizes"
"""The field of the page that says in which system the store writes sizes."""
SIZE_WRITTEN_MAX = SIZE_MAX_LENGTH + len(" (EU 42.5)")


def _title(card: ScoreCard) -> str:
    return f"{card.shoe.brand.name} {card.shoe.title}"


class TriedForm(SectionForm):
    """A shoe tried on; a row without a shoe is empty."""

    slug = ShoeNameField(label="Shoe", required=False)
    size = forms.CharField(label="Size", required=False, max_length=SIZE_WRITTEN_MAX)
    comfort = pick_field("Comfort, 10 is best", [("", "–"), *ZERO_TO_TEN])
    with_insole = forms.BooleanField(label="With the person’s own insole or orthosis", required=False)


class ChosenForm(SectionForm):
    """Which of the shoes tried on; the places are those of the rows above."""

    has_widths = False

    place = forms.ChoiceField(
        label="Which one?",
        required=False,
        choices=[("", "none yet"), *((str(row), f"number {row + 1}") for row in range(TRY_ROWS))],
        widget=forms.RadioSelect,
    )
    # Which widths there are depends on the shoes tried on, so the service refuses one that the shoe is not made in.
    width = forms.CharField(
        label="Width of the pair",
        required=False,
        max_length=WIDTH_MAX_LENGTH,
        widget=forms.Select(choices=[("", "not said")]),
    )
    reason = forms.CharField(
        label="Why this one?",
        required=False,
        max_length=REASON_MAX,
        help_text="Needed if the shoe is outside the target.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class TryOnsSection(Section):
    name = SectionName.TRY_ONS

    def make(self, data: Mapping[str, Any] | None) -> Iterable[forms.Form]:
        said = data or {}
        self.system = str(said.get(SIZE_SYSTEM) or said.get(STORE_SIZES) or "")
        self.rows = [TriedForm(data, prefix=f"try-{row}") for row in range(TRY_ROWS)]
        self.cards: dict[str, ScoreCard] = {}
        return self.rows

    def check(self) -> bool:
        super().check()
        named = self._find_shoes()
        taken: set[tuple[str, Decimal]] = set()
        for form in self.rows:
            self._check_row(form, named, taken)
        return not any(form.errors for form in self.rows)

    def _find_shoes(self) -> dict[str, NamedShoe]:
        """Read the published shoes that the rows name, mostly by one query."""
        texts = {form.cleaned_data["slug"] for form in self.rows if form.cleaned_data.get("slug")}
        self._add_cards(texts)
        named = {slug: NamedShoe(slug, _title(card)) for slug, card in self.cards.items()}
        if others := texts - named.keys():
            named |= shoes_by_text(others)
            self._add_cards({named[text].slug for text in others} - {""})
        titles = {slug: _title(card) for slug, card in self.cards.items()}
        for form in self.rows:
            name_field = form.fields["slug"]
            assert isinstance(name_field, ShoeNameField)  # noqa: S101  declared so; for the type checker
            name_field.titles = titles
        return named

    def _add_cards(self, slugs: set[str]) -> None:
        if slugs:
            cards = ScoreCard.objects.filter(shoe__slug__in=slugs, is_current=True).select_related("shoe__brand")
            self.cards |= {card.shoe.slug: card for card in cards}

    def _check_row(self, form: TriedForm, named: Mapping[str, NamedShoe], taken: set[tuple[str, Decimal]]) -> None:
        text, size = form.cleaned_data.get("slug"), form.cleaned_data.get("size")
        if not text:
            if "slug" not in form.errors and (size or form.cleaned_data.get("comfort") is not None):
                form.add_error("slug", "Say which shoe it was, or clear the row.")
            return
        shoe = named[text]
        if shoe.problem:
            form.add_error("slug", shoe.problem)
        elif shoe.slug not in self.cards:
            form.add_error("slug", f"There is no published shoe “{shoe.title}”: it has no score yet. Pick another one.")
        try:
            said = size_said(size or "", self.system)
            size_eu = read_eu_size(said)
        except ValueError as problem:
            form.add_error("size", str(problem))
            return
        if (shoe.slug, size_eu) in taken:
            form.add_error("slug", "This shoe is already in another row in this size.")
        taken.add((shoe.slug, size_eu))
        form.cleaned_data |= {"slug": shoe.slug, "size": said}

    def content(self) -> dict[str, str | list[str]]:
        """What was written; a number alone is completed with the system that it was said in."""
        written = super().content()
        for form in self.rows:
            key = form.add_prefix("size")
            text = written.get(key)
            if isinstance(text, str) and text.strip()[-1:] != ")":
                written[key] = size_said(text, self.system)
        return written

    def shoe_name(self, slug: str) -> str:
        card = self.cards.get(slug)
        return _title(card) if card else slug

    def filled(self) -> dict[int, TriedForm]:
        """The rows that name a shoe, by their number, those in order alone."""
        return {
            row: form
            for row, form in enumerate(self.rows)
            if not form.errors and form.cleaned_data.get("slug") in self.cards
        }


class ChoiceSection(Section):
    name = SectionName.CHOICE

    def make(self, data: Mapping[str, Any] | None) -> Iterable[forms.Form]:
        self.choice = ChosenForm(data, prefix="choice")
        return [self.choice]

    def offer_widths(self, shoes: Iterable[Shoe], foot: str) -> None:
        """Offer the widths of the shoes tried on that are made in several, with what the feet ask for."""
        several = list({shoe.pk: shoe for shoe in shoes if len(shoe.widths) > 1}.values())
        widths = dict.fromkeys(width for shoe in several for width in shoe.widths)
        field = self.choice.fields["width"]
        field.widget.choices = [("", "not said"), *((width, width) for width in widths)]
        remarks = ((shoe, width_remark(foot, shoe.widths, shoe.wearer)[0]) for shoe in several)
        field.help_text = " ".join(f"{shoe.brand.name} {shoe.title}: {words}." for shoe, words in remarks if words)
        self.choice.has_widths = bool(widths)
