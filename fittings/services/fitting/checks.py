"""Rules that what comes in must meet. Every problem is named by its field, all at once."""

from __future__ import annotations

import datetime as dt
import re
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import models

from core.database.validation import from_validation_error
from core.domain.errors import DomainError
from core.domain.quoting import quoted
from core.gate.access import allowed
from core.models import Store, User, printable
from fittings.domain.bounds import LIMITS, number_within, whole_within
from fittings.domain.fitting.angles import KINDS, measured_twice
from fittings.domain.fitting.grading import SIGN_COLUMNS
from fittings.domain.fitting.intake import (
    FOOT_LIMITS,
    Condition,
    CustomerIntake,
    FittingIntake,
    FollowUpAnswer,
    FootIntake,
    Look,
)
from fittings.domain.fitting.looks import LOOKS_MAX, checked_condition, condition_words
from fittings.domain.fitting.need import USES
from fittings.domain.fitting.stop_signs import STOP_SIGNS
from fittings.domain.people.overuse import overuse_score
from fittings.domain.refusals import not_your_store
from fittings.domain.regions import REGIONS, SIDES, Complaint
from fittings.domain.shoes.insoles import INSOLES
from fittings.domain.shoes.sizing import SIZE_SYSTEMS
from fittings.models.fitting.fitting import CushioningWish
from fittings.models.people.follow_up import COMMENT_MAX

NAME_MAX = 120
PHONE_MAX = 40
WORN_MAX = 160
HISTORY_MAX = 30
PAINS_MAX = 30
PHONE = re.compile(r"[0-9+\-/(). ]*[0-9][0-9+\-/(). ]*")
_WHOLE = frozenset({"pain_now", "pain_weeks", "grade", "fpi6", "comfort", "days_off"})
_FEET_MEASURES = frozenset({"length_mm", "width_mm"})


class Problems:
    """Collects what is wrong, by field, and refuses once at the end."""

    def __init__(self) -> None:
        self.fields: dict[str, list[str]] = defaultdict(list)

    def add(self, name: str, message: str) -> None:
        self.fields[name].append(message)

    def limit(self, name: str, value: object, limits: str = "") -> None:
        """Check a number against the limits that the domain names; nothing given is no problem."""
        kind = limits or name.rsplit(".", 1)[-1]
        if value is None:
            return
        low, high = LIMITS[kind]
        if kind in _WHOLE:
            self.run(name, lambda: whole_within(name, value, int(low), int(high)))
        else:
            self.run(name, lambda: number_within(name, value, low, high))

    def run(self, name: str, check: Callable[[], Any]) -> None:
        try:
            check()
        except (TypeError, ValueError) as problem:
            self.add(name, str(problem))
        except ValidationError as problem:
            self.fields[name].extend(problem.messages)

    def refusal(self) -> DomainError:
        words = "; ".join(f"{name}: {' '.join(messages)}" for name, messages in self.fields.items())
        return DomainError(words, code="invalid", fields=dict(self.fields))

    def refuse(self) -> None:
        if self.fields:
            raise self.refusal()


def require(actor: User, action: str, store: Store) -> None:
    """Refuse what the actor may not do in this store, as if there were no such store."""
    if not allowed(actor, action, store):
        raise not_your_store()


def check_record(record: models.Model) -> None:
    """Check a row's own columns; its relations were just read, and the database holds the constraints."""
    relations = [column.name for column in record._meta.concrete_fields if column.is_relation]
    try:
        record.full_clean(exclude=relations, validate_unique=False, validate_constraints=False)
    except ValidationError as problem:
        raise from_validation_error(problem) from problem


def check_intake(intake: FittingIntake, *, on: dt.date, signs: Mapping[str, str] = STOP_SIGNS) -> None:
    """Check everything of a fitting that needs no database; `signs` are the stop signs that are asked about."""
    problems = Problems()
    _check_words(problems, intake)
    for name in ("body_mass_kg", "distance_km_week", "pain_now", "pain_weeks"):
        problems.limit(name, getattr(intake, name))
    for sign in intake.stop_signs:
        if sign not in signs:
            problems.add("stop_signs", f"stop_signs must be of {', '.join(signs)}, got {quoted(sign)}")
    if intake.stop_signs and not intake.stop_signs_asked:
        problems.add("stop_signs_asked", "stop_signs_asked is false, but stop signs are named. Send true with them.")
    _check_customer(problems, intake.customer)
    _check_history(problems, intake.history, on)
    for side, foot in (("left", intake.left), ("right", intake.right)):
        _check_foot(problems, side, foot)
    check_looks(problems, intake.looks)
    for item in intake.marks:
        where = KINDS[item.marks.kind].field or "rearfoot_eversion_deg"
        problems.run(f"observation.{item.foot}.{where}", partial(measured_twice, item.marks, item.foot))
    problems.refuse()


def _check_words(problems: Problems, intake: FittingIntake) -> None:
    if not intake.use:
        problems.add("use", f"Say what the shoes are for: {', '.join(USES.values())}.")
    elif intake.use not in USES:
        problems.add("use", f"use must be one of {', '.join(USES)}, got {quoted(intake.use)}")
    if intake.cushioning not in CushioningWish.values:
        problems.add("cushioning", f"cushioning must be more, less or empty, got {quoted(intake.cushioning)}")
    for name, known in (("insole", INSOLES), ("size_system", SIZE_SYSTEMS)):
        if getattr(intake, name) not in ("", *known):
            problems.add(
                name, f"{name} must be one of {', '.join(known)} or empty, got {quoted(getattr(intake, name))}"
            )
    text = intake.current_shoe_text
    if len(text) > WORN_MAX:
        problems.add("current_shoe_text", f"current_shoe_text must have at most {WORN_MAX} characters, got {len(text)}")
    problems.run("current_shoe_text", lambda: printable(text))


def check_looks(problems: Problems, looks: Sequence[Look]) -> None:
    """Check everything of the looks in motion that needs no database."""
    if len(looks) > LOOKS_MAX:
        problems.add("looks", f"looks must have at most {LOOKS_MAX} items, got {len(looks)}")
    seen: set[Condition] = set()
    for index, look in enumerate(looks):
        where, condition = f"looks.{index}", look.condition
        problems.run(f"{where}.worn", partial(checked_condition, condition))
        if condition in seen:
            problems.add(f"{where}.worn", f"There is already a look {condition_words(condition)}. Use one of the two.")
        seen.add(condition)
        check_signs(problems, where, look)


def check_signs(problems: Problems, where: str, look: Look) -> None:
    """Check the signs of both feet in one look, of which there must be any."""
    if all(getattr(foot, name) is None for _, foot in look.feet() for name in SIGN_COLUMNS):
        problems.add(f"{where}.left.pronation", "Grade or measure at least one sign of one foot, or clear the look.")
    for side, foot in look.feet():
        for name in SIGN_COLUMNS:
            problems.limit(f"{where}.{side}.{name}", getattr(foot, name), FOOT_LIMITS[name])


def check_stop_signs_answered(intake: FittingIntake) -> None:
    """Refuse to finish a fitting where nobody asked about stop signs, or said nothing to a customer who has one."""
    if not intake.stop_signs_asked:
        message = "Ask about these signs before you finish: tick what applies, or “None of these”."
        raise DomainError(message, code="stop_signs_not_asked", fields={"stop_signs": [message]})
    if intake.stop_signs and not intake.clinician_advised:
        message = "Advise the customer to see a clinician, then tick that you did. A sign is ticked above."
        raise DomainError(message, code="clinician_not_advised", fields={"clinician_advised": [message]})


def check_person(customer: CustomerIntake) -> None:
    """Check name, e-mail address and telephone number of somebody who agreed that they are kept."""
    problems = Problems()
    _check_customer(problems, customer)
    problems.refuse()


def _check_customer(problems: Problems, customer: CustomerIntake) -> None:
    if not customer.consent:
        return
    name = customer.name.strip()
    if not name:
        problems.add("customer.name", "Give a name, so that you can find the fitting again.")
    if len(name) > NAME_MAX:
        problems.add("customer.name", f"name must have at most {NAME_MAX} characters, got {len(name)}")
    problems.run("customer.name", lambda: printable(name))
    if customer.email:
        problems.run("customer.email", lambda: validate_email(customer.email))
    _check_phone(problems, customer.phone)
    _check_guardian(problems, customer)


def check_guardian(customer: CustomerIntake) -> None:
    """Check who agreed for somebody under age."""
    problems = Problems()
    _check_guardian(problems, customer)
    problems.refuse()


def _check_guardian(problems: Problems, customer: CustomerIntake) -> None:
    guardian = customer.guardian.strip()
    if customer.under_age and not guardian:
        message = f"Name the parent or guardian who agrees: the customer is under {settings.AGE_OF_CONSENT}."
        problems.add("customer.guardian", message)
    if len(guardian) > NAME_MAX:
        problems.add("customer.guardian", f"guardian must have at most {NAME_MAX} characters, got {len(guardian)}")
    problems.run("customer.guardian", lambda: printable(guardian))


def _check_phone(problems: Problems, phone: str) -> None:
    if len(phone) > PHONE_MAX:
        problems.add("customer.phone", f"phone must have at most {PHONE_MAX} characters, got {len(phone)}")
    elif phone and not PHONE.fullmatch(phone):
        problems.add("customer.phone", "Write the telephone number with only digits, spaces and + - / ( ).")


def _check_history(problems: Problems, history: tuple[Complaint, ...], on: dt.date) -> None:
    if len(history) > HISTORY_MAX:
        problems.add("history", f"history must have at most {HISTORY_MAX} items, got {len(history)}")
    for index, item in enumerate(history):
        where = f"history.{index}"
        _check_place(problems, where, item.region, item.side)
        if item.settled_on is None:
            continue
        if item.now:
            problems.add(f"{where}.settled_on", "A complaint that is there now has not settled; leave the date out.")
        elif item.settled_on > on:
            problems.add(
                f"{where}.settled_on", f"settled_on must not be after the fitting ({on}), got {item.settled_on}"
            )


def _check_place(problems: Problems, where: str, region: str, side: str | None) -> None:
    if region not in REGIONS:
        problems.add(f"{where}.region", f"region must be one of {', '.join(REGIONS)}, got {quoted(region)}")
    if side is not None and side not in SIDES:
        problems.add(f"{where}.side", f"side must be left, right, both or null, got {quoted(side)}")


def _check_foot(problems: Problems, side: str, foot: FootIntake) -> None:
    for name, limits in FOOT_LIMITS.items():
        group = "feet" if name in _FEET_MEASURES else "observation"
        problems.limit(f"{group}.{side}.{name}", getattr(foot, name), limits)


def check_answer(answer: FollowUpAnswer) -> None:
    """Check everything of a follow-up's answers that needs no database."""
    if answer == FollowUpAnswer():
        raise DomainError("Answer at least one of the questions.", code="empty")
    problems = Problems()
    for name in ("distance_km_week", "comfort", "days_off"):
        problems.limit(name, getattr(answer, name))
    if len(answer.comment) > COMMENT_MAX or "\x00" in answer.comment:
        problems.add("comment", f"comment must be text of at most {COMMENT_MAX} characters, got {len(answer.comment)}")
    pains = answer.pain
    if answer.nothing_hurts and any(pain.score > 0 for pain in pains):
        message = "Nothing hurts, but a place has a pain score above 0. Correct one of these two answers."
        problems.add("nothing_hurts", message)
    if len(pains) > PAINS_MAX:
        problems.add("pain", f"pain must have at most {PAINS_MAX} items, got {len(pains)}")
    for index, pain in enumerate(pains):
        _check_place(problems, f"pain.{index}", pain.region, pain.side)
        problems.limit(f"pain.{index}.score", pain.score, "pain_now")
    if answer.overuse is not None:
        overuse = answer.overuse
        problems.run("overuse", lambda: overuse_score(overuse))
    problems.refuse()
