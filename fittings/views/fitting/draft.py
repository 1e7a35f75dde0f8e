"""Recording a fitting: one page in sections, each saved as it is left.

Without JavaScript the whole page is one form, and each section has a button that saves what was written so far.
"""

from __future__ import annotations

import uuid
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django_htmx.http import HttpResponseClientRedirect

from core.domain.errors import DomainError
from core.gate.access import allowed, gate
from core.gate.context import units_of
from core.web.display import METRIC
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings import services
from fittings.domain.people.consent import consent_text
from fittings.domain.shoes.sizing import size_said
from fittings.forms.fields import SHOE_NAME_MAX
from fittings.forms.fitting.draft_page import DraftPage, person_data, shown_data, stored_data, with_try_on
from fittings.forms.fitting.section import UNITS
from fittings.forms.fitting.sections import SECTIONS, PersonForm, PersonSection
from fittings.forms.fitting.try_ons import SIZE_SYSTEM
from fittings.models import Customer, Fitting, SectionName
from fittings.presentation.fitting import draft_bar, draft_states
from fittings.presentation.fitting.draft_states import SectionStanding
from fittings.selectors.fitting.drafts import DraftState, draft_state, may_look_second
from fittings.selectors.fitting.shoe_names import names_offered
from fittings.selectors.people.lists import names_to_pick
from fittings.selectors.people.people import customer_picked, has_agreed, people_find, sizes_said
from fittings.services.fitting.checks import check_stop_signs_answered
from fittings.services.fitting.draft import Finished, NotKeptYet, SectionChanged
from fittings.views.common import camera_here, domain_errors_as_pages
from fittings.views.fitting.draft_answer import answer_context
from fittings.views.fitting.draft_saving import save_sections, section_saved, stamp_of
from fittings.views.fitting.draft_store import draft_store
from fittings.views.fitting.draft_wish import ASK, size_ask_noted
from fittings.views.fitting.last_time import last_time_of, taken_over

WRITE = "fittings.fitting:write"
HELD = 202


@gate(WRITE)
@never_cache
@require_safe
def fitting_new(request: HttpRequest) -> HttpResponse:
    """A fresh page. Nothing is kept by opening it."""
    address = reverse("fittings:draft", kwargs={"key": uuid.uuid4()})
    customer = customer_picked(request.user, request.GET.get("customer"))
    if customer is None:
        return redirect(address)
    return redirect(f"{address}?customer={customer.pk}&store={customer.store.slug}")


@gate(WRITE)
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@camera_here
@domain_errors_as_pages
def draft(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    """The page of a fitting: to be begun, or gone on with by any colleague of the store."""
    state = draft_state(request.user, key)
    if state.fitting is not None:
        return _to_fitting(request, state.fitting)
    if request.method == "POST":
        return _posted(request, state)
    customer = None if state.draft else customer_picked(request.user, request.GET.get("customer"))
    if customer is None:
        return _page(request, state, DraftPage.stored(state, units_of(request)), _kept(request, state))
    agreed = has_agreed(customer)
    standings = _kept(request, state) | ({SectionName.PERSON: draft_states.unsaved(0)} if agreed else {})
    return _page(request, state, _for(customer, agreed, units_of(request)), standings)


def _for(customer: Customer, agreed: bool, units: str) -> DraftPage:
    """A page that is not begun yet, for a customer of the store: what holds of them is in it."""
    person = person_data(customer, made=False) if agreed else {"person-known": str(customer.pk)}
    feet = {SIZE_SYSTEM: sizes_said(customer), UNITS: units}
    others = {name: {UNITS: units} for name in SECTIONS}
    return DraftPage(others | {SectionName.PERSON: person, SectionName.FEET: feet})


def _kept(request: HttpRequest, state: DraftState) -> dict[str, SectionStanding]:
    return {name: draft_states.as_kept(state, name, request.user) for name in SECTIONS}


def _to_fitting(request: HttpRequest, fitting: Fitting) -> HttpResponse:
    address = reverse("fittings:fitting-detail", kwargs={"pk": fitting.pk})
    if getattr(request, "htmx", False):
        return HttpResponseClientRedirect(address)
    return redirect(address)


def _page(
    request: HttpRequest,
    state: DraftState,
    page: DraftPage,
    standings: dict[str, SectionStanding],
    *,
    status: int = 200,
    people: Any = None,
) -> HttpResponse:
    store, stores = draft_store(request, state)
    answer = answer_context(request, page, store)
    views = {name: draft_states.section_view(page.sections[name], standings[name]) for name in SECTIONS}
    context = _common(request, state, page.person.person) | {
        "store": store,
        "stores": stores,
        "first": [views[name] for name in list(SECTIONS)[:5]],
        "last": [views[name] for name in list(SECTIONS)[5:]],
        "people": people,
        "page_id": uuid.uuid4(),
        "shoes": names_to_pick(),
        "jumps": draft_bar.jumps(),
        "sizes": store.size_system,
        "problems": [form for section in page.sections.values() for form in section.forms if form.errors],
    }
    return render(request, "fittings/draft.html", context | answer, status=status)


def _common(request: HttpRequest, state: DraftState, person: PersonForm | None) -> dict[str, Any]:
    picked = customer_picked(request.user, person["known"].value()) if person else None
    return {
        "key": state.key,
        "draft": state.draft,
        "may_look_second": may_look_second(request.user, state),
        "has_second_look": state.has_second_look,
        "consent_text": consent_text(
            retention_months=settings.HEALTH_DATA_RETENTION_MONTHS, age=settings.AGE_OF_CONSENT
        ),
        "find": request.POST.get("find", ""),
        "picked": picked,
        "last_time": last_time_of(picked, units_of(request)),
    }


def _posted(request: HttpRequest, state: DraftState) -> HttpResponse:
    """What one of the page's buttons asks for; each answer shows everything that was written."""
    action, _, detail = request.POST.get("do", "save").partition(":")
    data: Any = request.POST
    if action == "try":
        data = with_try_on(request.POST, detail, request.POST.get("wanted-size", ""))
    if action == "pick":
        data = _picked(request, detail)
    if action == "carry":
        data = taken_over(request, detail)
    untouched = request.POST.getlist("untouched")
    page = DraftPage.posted(data, state, untouched)
    if action in ("find", "need", "pick", "theirs", "carry"):
        return _unsaved(request, state, page, action, detail)
    store, _ = draft_store(request, state)
    kept = save_sections(request, state, store, page, detail if action == "keep" else "")
    if action == "finish" and kept.is_clean:
        return _finish(request, state, page)
    if not kept.is_clean or kept.holds:
        status = 409 if kept.conflicts else 200 if kept.is_clean else 400
        return _page(request, draft_state(request.user, state.key), page, kept.standings, status=status)
    if action == "wish" and allowed(request.user, ASK, store):
        size_ask_noted(request, store, detail, size_said(request.POST.get("wanted-size", ""), ""))
    name = "try_ons" if action == "try" else detail.partition(":")[0]
    anchor = f"#section-{name}" if name in SECTIONS else ""
    return redirect(reverse("fittings:draft", kwargs={"key": state.key}) + anchor)


def _picked(request: HttpRequest, detail: str) -> QueryDict:
    """What was sent, with a customer who was found; they agreed before where the list says so."""
    changed = request.POST.copy()
    pk, _, agreed = detail.partition(":")
    changed["person-known"] = pk
    if agreed:
        changed["person-consent"] = "yes"
    if not changed.get(SIZE_SYSTEM):
        changed[SIZE_SYSTEM] = sizes_said(customer_picked(request.user, pk))
    return changed


def _unsaved(request: HttpRequest, state: DraftState, page: DraftPage, action: str, detail: str) -> HttpResponse:
    """The page with everything as it was written, nothing saved."""
    standings = _kept(request, state)
    people = None
    if action == "find":
        people = people_find(request.user, draft_store(request, state)[0], request.POST.get("find", ""))
    if action == "theirs" and detail in SECTIONS:
        page.sections[detail] = SECTIONS[detail](shown_data(state, detail, request.POST.get(UNITS, METRIC)))
    for name, section in page.sections.items():
        section.is_valid()
        if section.content() != dict(stored_data(state, name) or {}):
            standings[name] = draft_states.unsaved(state.version(name))
    return _page(request, state, page, standings, people=people)


def _finish(request: HttpRequest, state: DraftState, page: DraftPage) -> HttpResponse:
    """Make the fitting; without consent show the answer once, and keep nothing."""
    state = draft_state(request.user, state.key)
    if state.fitting is not None:
        return _to_fitting(request, state.fitting)
    page.check()
    person = page.person.person
    consent = person.cleaned_data.get("consent")
    chosen = page.chosen()
    if consent == "no":
        try:
            return _not_kept(request, state, page)
        except DomainError as problem:
            page.add_problems(problem.fields, problem.message)
    elif consent != "yes":
        person.add_error("consent", "Answer this before you finish: may the fitting be stored?")
    elif page.check_looks() and not page.choice.choice.errors:
        try:
            fitting = services.draft_finish(
                actor=actor_of(request),
                key=state.key,
                intake=page.whole_intake(state.key),
                tried=page.tried(),
                chosen=chosen,
                versions={name: section.version for name, section in state.sections.items()},
            )
            messages.success(request, _finished_words(chosen is not None))
            return _to_fitting(request, fitting)
        except Finished as problem:
            return _to_fitting(request, problem.fitting)
        except DomainError as problem:
            page.add_problems(problem.fields, problem.message)
    standings = _kept(request, state)
    for name, section in page.sections.items():
        if section.problem_count():
            standings[name] = draft_states.refused(section, state.version(name))
    return _page(request, state, page, standings, status=400)


def _finished_words(is_chosen: bool) -> str:
    if is_chosen:
        return "The fitting is finished, the choice is recorded and the follow-ups are scheduled."
    return "The fitting is finished. No shoe was chosen yet; you can record one below."


def _not_kept(request: HttpRequest, state: DraftState, page: DraftPage) -> HttpResponse:
    store = draft_store(request, state)[0]
    intake = page.whole_intake(state.key)
    check_stop_signs_answered(intake)
    services.fitting_record(actor=actor_of(request), store=store, intake=intake)
    return render(request, "fittings/fitting_not_kept.html", answer_context(request, page, store))


@gate(WRITE)
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@domain_errors_as_pages
def draft_section(request: HttpRequest, key: uuid.UUID, name: str) -> HttpResponse:
    """One section: as it is kept (GET), or to be saved (POST, by htmx)."""
    if name not in SECTIONS:
        raise Http404("This section does not exist.")
    state = draft_state(request.user, key)
    if state.fitting is not None:
        return _to_fitting(request, state.fitting)
    if request.method != "POST":
        forms = DraftPage.stored(state, units_of(request)).sections[name]
        return _section(request, state, forms, draft_states.as_kept(state, name, request.user))
    return _save_one(request, state, name)


def _save_one(request: HttpRequest, state: DraftState, name: str) -> HttpResponse:
    forms = SECTIONS[name](request.POST)
    version = stamp_of(request, name).version
    if not forms.is_valid():
        return _section(request, state, forms, draft_states.refused(forms, version), status=400)
    try:
        kept = section_saved(request, state, draft_store(request, state)[0], forms)
    except NotKeptYet:
        return _standing(request, state, name, draft_states.held(), status=HELD)
    except SectionChanged as problem:
        return _standing(request, state, name, draft_states.changed(problem, forms, version), status=409)
    except Finished as problem:
        return _to_fitting(request, problem.fitting)
    except DomainError as problem:
        if problem.status == 404:
            raise
        page = DraftPage({name: request.POST})
        page.sections[name] = forms
        page.add_problems(problem.fields, problem.message)
        return _section(request, state, forms, draft_states.refused(forms, version), status=400)
    return _standing(request, state, name, draft_states.saved(kept, request.user))


def _standing(
    request: HttpRequest, state: DraftState, name: str, standing: SectionStanding, *, status: int = 200
) -> HttpResponse:
    context = {"key": state.key, "name": name, "standing": standing, "title": draft_states.TITLES[name]}
    return render(request, "fittings/_section_state.html", context, status=status)


def _section(
    request: HttpRequest, state: DraftState, forms: Any, standing: SectionStanding, *, status: int = 200
) -> HttpResponse:
    """A whole section, put in the place of the one on the page."""
    if forms.name == SectionName.CHOICE and request.method != "POST":
        page = DraftPage.stored(state)
        page.check()
        page.name_places(None)
        forms = page.choice
    if forms.name in (SectionName.INTAKE, SectionName.TRY_ONS):
        # The names of the shoes are read with the check.
        forms.is_valid()
    person = forms.person if isinstance(forms, PersonSection) else None
    context = _common(request, state, person) | {"section": draft_states.section_view(forms, standing)}
    response = render(request, "fittings/_section.html", context, status=status)
    response.headers["HX-Retarget"] = f"#section-{forms.name.value}"
    response.headers["HX-Reswap"] = "outerHTML"
    return response


@gate(WRITE)
@never_cache
@require_POST
@domain_errors_as_pages
def draft_need(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    """Need and match of what is on the page now. Stores nothing, and asks for no consent."""
    state = draft_state(request.user, key)
    page = DraftPage.posted(request.POST, state)
    store, _ = draft_store(request, state)
    context = answer_context(request, page, store) | {"section": None, "is_live": True, "key": key, "store": store}
    context["choice"] = page.choice.choice
    return render(request, "fittings/_answer.html", context)


@gate(WRITE)
@never_cache
@require_POST
@domain_errors_as_pages
def draft_people(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    """Customers of the store who are looked for. Sent in the body: names do not belong into addresses."""
    store, _ = draft_store(request, draft_state(request.user, key))
    text = request.POST.get("find", "")
    context = {"people": people_find(request.user, store, text), "find": text}
    return render(request, "fittings/_people.html", context)


@gate(WRITE)
@require_safe
def shoe_names(request: HttpRequest) -> HttpResponse:
    """Names of shoes that have the words typed, as suggestions of a field."""
    words = request.GET.get("words", "").replace("\x00", " ")[:SHOE_NAME_MAX]
    return render(request, "fittings/_shoe_options.html", {"shoes": names_offered(words)})


@gate(WRITE)
@require_POST
@domain_errors_as_pages
def draft_discard(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    draft_state(request.user, key)
    try:
        services.draft_discard(actor=actor_of(request), key=key)
    except Finished as problem:
        return _to_fitting(request, problem.fitting)
    messages.success(request, "The unfinished fitting was discarded and deleted.")
    return redirect("fittings:home")
