"""All sections of a fitting's page together: what they say of the person, and where a refusal belongs."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Any, cast

from django import forms
from django.utils.datastructures import MultiValueDict

from catalogue.domain.sizes import mark_converted, size_read
from core.models import Store
from core.web.display import METRIC, number, size
from fittings.domain.fitting.grading import graded_foot
from fittings.domain.fitting.intake import FittingIntake, FootIntake
from fittings.domain.fitting.looks import MOVEMENTS
from fittings.domain.fitting.need import Need
from fittings.domain.shoes.insoles import INSOLE, ORTHOSIS
from fittings.domain.shoes.widths import foot_width
from fittings.forms.fitting.looks import LooksSection
from fittings.forms.fitting.observation import FootObservationForm, ObservationSection
from fittings.forms.fitting.section import UNITS, Section, in_units
from fittings.forms.fitting.sections import (
    SECTIONS,
    FeetSection,
    FootForm,
    IntakeSection,
    PersonSection,
    StopSignsSection,
)
from fittings.forms.fitting.try_ons import ChoiceSection, TryOnsSection
from fittings.models import Customer, SectionName
from fittings.selectors.fitting.cutoffs import current_cutoffs
from fittings.selectors.fitting.drafts import DraftState
from fittings.selectors.people.people import guardian_of
from fittings.services.fitting.draft import Chosen, TriedOn

Data = Mapping[str, Any]


def person_data(customer: Customer, made: bool) -> dict[str, str]:
    """The section of the customer as it would be written: somebody found, or a name and an address."""
    guardian = guardian_of(customer)
    said = {"consent": "yes"} | ({"under_age": "on", "guardian": guardian} if guardian else {})
    if made:
        said |= {"name": customer.name, "email": customer.email, "phone": customer.phone}
    else:
        said["known"] = str(customer.pk)
    return {f"person-{name}": text for name, text in said.items()}


def stored_data(state: DraftState, name: str) -> Data | None:
    """What is stored of a section, as a form takes it; None where nothing is."""
    if name == SectionName.PERSON:
        return person_data(state.draft.customer, state.draft.made_customer) if state.draft else None
    section = state.sections.get(name)
    return section.content if section else None


def shown_data(state: DraftState, name: str, system: str) -> Data | None:
    """What is stored of a section, as it is written in a system of units."""
    content = stored_data(state, name)
    return None if content is None else in_units(SECTIONS[name], content, system)


class DraftPage:
    """The forms of the page, by section."""

    def __init__(self, data: Mapping[str, Data | None]) -> None:
        self.sections: dict[str, Section] = {name: kind(data.get(name)) for name, kind in SECTIONS.items()}

    @classmethod
    def stored(cls, state: DraftState, system: str = METRIC) -> DraftPage:
        return cls({name: shown_data(state, name, system) or {UNITS: system} for name in SECTIONS})

    @classmethod
    def posted(cls, data: Data, state: DraftState, untouched: Sequence[str] = ()) -> DraftPage:
        """The page as it was sent; a section that the page says nobody touched is taken as it is stored."""
        system = str(data.get(UNITS, METRIC))
        return cls({name: (name in untouched and shown_data(state, name, system)) or data for name in SECTIONS})

    @property
    def person(self) -> PersonSection:
        return cast(PersonSection, self.sections[SectionName.PERSON])

    @property
    def intake(self) -> IntakeSection:
        return cast(IntakeSection, self.sections[SectionName.INTAKE])

    @property
    def stop_signs(self) -> StopSignsSection:
        return cast(StopSignsSection, self.sections[SectionName.STOP_SIGNS])

    @property
    def observation(self) -> ObservationSection:
        return cast(ObservationSection, self.sections[SectionName.OBSERVATION])

    @property
    def feet(self) -> FeetSection:
        return cast(FeetSection, self.sections[SectionName.FEET])

    @property
    def try_ons(self) -> TryOnsSection:
        return cast(TryOnsSection, self.sections[SectionName.TRY_ONS])

    @property
    def looks(self) -> LooksSection:
        return cast(LooksSection, self.sections[SectionName.LOOKS])

    @property
    def choice(self) -> ChoiceSection:
        return cast(ChoiceSection, self.sections[SectionName.CHOICE])

    def size_system(self, store: Store) -> str:
        """The system in which the customer says sizes, else the store's."""
        return self.feet.sizes.cleaned_data.get("size_system") or store.size_system

    def check(self) -> bool:
        """Check every section, so that every problem is shown at once."""
        return all([section.is_valid() for section in self.sections.values()])  # noqa: C419

    def whole_intake(self, key: uuid.UUID | None) -> FittingIntake:
        """Everything that the sections say and that is in order; the rest is taken as not known."""
        answers = self.intake.intake.cleaned_data
        return FittingIntake(
            use=answers.get("use") or "",
            body_mass_kg=answers.get("body_mass_kg"),
            distance_km_week=answers.get("distance_km_week"),
            history=self.intake.complaints(),
            pain_now=answers.get("pain_now"),
            pain_weeks=answers.get("pain_weeks"),
            clinician_advised=self.stop_signs.clinician_advised(),
            stop_signs=self.stop_signs.signs(),
            stop_signs_asked=self.stop_signs.is_answered(),
            left=_foot(self.observation.left, self.feet.left),
            right=_foot(self.observation.right, self.feet.right),
            hip_weak=self.observation.hip.cleaned_data.get("hip_weak"),
            current_shoe=answers.get("current_shoe") or None,
            current_shoe_text=answers.get("current_shoe_text") or "",
            insole=answers.get("insole") or "",
            size_system=self.feet.sizes.cleaned_data.get("size_system") or "",
            cushioning=answers.get("cushioning") or "",
            submission=key,
            marks=(*self.observation.left.foot_marks(), *self.observation.right.foot_marks()),
            looks=self.looks.looks(self._tried_slugs()),
        )

    def _tried_slugs(self) -> dict[str, str]:
        """The slug of the shoe in each row of the try-ons."""
        return {str(row): form.cleaned_data["slug"] for row, form in self.try_ons.filled().items()}

    def check_looks(self) -> bool:
        """Refuse looks in shoes that no row of the try-ons names, at their fields."""
        return self.looks.check_shoes(self._tried_slugs())

    def graded_intake(self) -> FittingIntake:
        """The whole intake with grades for what was entered in degrees; what contradicts is left as it was graded."""
        intake = self.whole_intake(None)
        if not self.observation.has_degrees() and not self.looks.has_degrees():
            return intake
        cutoffs = current_cutoffs().cutoffs

        def grade(foot: FootIntake) -> FootIntake:
            return graded_foot(foot, cutoffs).foot

        looks = tuple(replace(look, left=grade(look.left), right=grade(look.right)) for look in intake.looks)
        return replace(intake, left=grade(intake.left), right=grade(intake.right), looks=looks)

    def tried(self) -> tuple[TriedOn, ...]:
        """The shoes tried on. Whether their own insole was in them is only known of somebody who wears one."""
        wears_one = self.intake.intake.cleaned_data.get("insole") in (INSOLE, ORTHOSIS)
        return tuple(
            TriedOn(row, said["slug"], said["size"], said["comfort"], said["with_insole"] if wears_one else None)
            for row, said in ((row, form.cleaned_data) for row, form in self.try_ons.filled().items())
        )

    def chosen(self) -> Chosen | None:
        """What was chosen. A row that names no shoe is refused at its field: None, with an error on the form."""
        form = self.choice.choice
        self.offer_widths()
        place = form.cleaned_data.get("place")
        if not place:
            return None
        if int(place) not in self.try_ons.filled():
            form.add_error("place", f"Number {int(place) + 1} has no shoe. Pick a try-on that has one.")
            return None
        said = form.cleaned_data
        width = said.get("width") or "" if form.has_widths else ""
        return Chosen(int(place), said.get("reason") or "", width)

    def name_places(self, need: Need | None, movements: Mapping[str, str] = MappingProxyType({})) -> None:
        """Word the choices by the shoes tried on, whether each is in the target, and how the feet moved in it."""
        choices = [("", "none yet")]
        for row, form in self.try_ons.filled().items():
            movement = MOVEMENTS.get(movements.get(form.cleaned_data["slug"], ""), "")
            choices.append((str(row), self._place_words(form, need) + (f"; in motion {movement}" if movement else "")))
        field = self.choice.choice.fields["place"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101  declared so; for the type checker
        field.choices = choices
        self.offer_widths()

    def offer_widths(self) -> None:
        """Offer the widths of the shoes tried on, with what the feet ask for."""
        shoes = [self.try_ons.cards[form.cleaned_data["slug"]].shoe for form in self.try_ons.filled().values()]
        feet = (self.feet.left.cleaned_data, self.feet.right.cleaned_data)
        foot = foot_width([(said.get("length_mm"), said.get("width_mm")) for said in feet])
        self.choice.offer_widths(shoes, foot)

    def _place_words(self, form: forms.Form, need: Need | None) -> str:
        said = form.cleaned_data
        card = self.try_ons.cards[said["slug"]]
        read = size_read(said["size"])
        words = f"{card.shoe.brand.name} {card.shoe.title}, {mark_converted(size(read.eu), read.converted_from)}"
        if said["comfort"] is not None:
            words += f", comfort {said['comfort']}"
        if need is None:
            return words
        is_inside = need.contains(card.stability)
        where = "in the target" if is_inside else "outside the target, so say why below"
        return f"{words}: stability {number(card.stability)}, {where}"

    def add_problems(self, fields: Mapping[str, Sequence[str]], message: str) -> None:
        """Put what a service refused beside the fields it names, or above the first section."""
        for name, words in fields.items():
            form, field = self._place(name)
            form.add_error(field, list(words))
        if not fields:
            self.person.person.add_error(None, message)

    def _place(self, name: str) -> tuple[forms.Form, str | None]:
        first, *rest = name.split(".")
        last = rest[-1] if rest else first
        form: forms.Form
        if first in ("observation", "feet") and len(rest) == 2:
            form = getattr(self.observation if first == "observation" else self.feet, rest[0])
        elif first == "history" and len(rest) == 2:
            form = [row for row in self.intake.history if row.complaint() is not None][int(rest[0])]
        elif first.startswith("try-") and rest:
            form = self.try_ons.rows[int(first.removeprefix("try-"))]
        elif first == "looks" and rest:
            form, last = self.looks.written()[int(rest[0])], "_".join(rest[1:]).replace("shoe", "worn")
        elif first == "choice" and rest:
            form = self.choice.choice
            last = last if last in form.fields else "place"
        elif first in ("stop_signs", "clinician_advised"):
            form, last = self.stop_signs.stop, "signs" if first == "stop_signs" else "advised"
        else:
            form = self._form_with(first, last)
        return form, last if last in form.fields else None

    def _form_with(self, first: str, last: str) -> forms.Form:
        if first == "customer":
            return self.person.person
        return self.intake.intake if last in self.intake.intake.fields else self.person.person


def _foot(observed: FootObservationForm, foot: FootForm) -> FootIntake:
    return replace(observed.seen(), **foot.cleaned_data)


def with_try_on(data: Data, slug: str, size_text: str) -> MultiValueDict[str, Any]:
    """What was sent, with a shoe put into the first row that names none."""
    changed: MultiValueDict[str, Any] = MultiValueDict({name: data.getlist(name) for name in data})  # type: ignore[attr-defined]
    for row in range(len(TryOnsSection().rows)):
        if not changed.get(f"try-{row}-slug"):
            changed[f"try-{row}-slug"], changed[f"try-{row}-size"] = slug, size_text
            break
    return changed
