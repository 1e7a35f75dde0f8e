"""Pages of specimens: received, labelled, opened by a label, moved, disposed of."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from catalogue.models import Shoe
from catalogue.selectors.records.shoe_names import names_of_shoes
from core.audit import practice_id
from core.domain.quoting import quoted
from core.gate.access import allowed, gate
from core.web.forms import problems_in, status_of
from core.web.requests import actor_of
from labtests import services
from labtests.domain.labels import LabelText, read_label
from labtests.forms.bench_tests import ReasonForm
from labtests.forms.specimens import DisposeForm, LabelForm, MoveForm, ReceiveForm, RetestForm, SpecimenFilterForm
from labtests.models import Specimen
from labtests.presentation import bench_tests as presentation
from labtests.presentation.bench import specimens as words
from labtests.presentation.bench.bench_day import entry_line
from labtests.selectors.bench import specimens
from labtests.selectors.bench.retests import retests
from labtests.selectors.studies.check_shoes import duty_current_of
from labtests.views.common import PAGE, page_of

TESTS_SHOWN = 50
LABELS_MOST = 40


@gate("labtests.specimen:view")
@require_safe
def specimen_list(request: HttpRequest) -> HttpResponse:
    form = SpecimenFilterForm(request.GET)
    rows = specimens.specimen_list(form.asked()) if form.is_valid() else Specimen.objects.none()
    page = page_of(rows, request)
    context = {
        "form": form,
        "label": LabelForm(auto_id="id_open_%s"),
        "page": page,
        "lines": [words.specimen_line(specimen) for specimen in page.object_list],
        "may_write": allowed(request.user, "labtests.specimen:write"),
    }
    return render(request, "labtests/specimen_list.html", context, status=status_of(form))


@gate("labtests.specimen:view")
@require_safe
def specimen_open(request: HttpRequest) -> HttpResponse:
    """Open the specimen of a label that was scanned or typed."""
    if "label" not in request.GET:
        return _not_opened(request, LabelForm(), 200)
    form = LabelForm(request.GET)
    if not form.is_valid():
        return _not_opened(request, form, 400)
    return _open(request, read_label(form.cleaned_data["label"]), form)


@gate("labtests.specimen:view")
@require_safe
def label_open(request: HttpRequest, practice: str, code: str) -> HttpResponse:
    """The address on a label: any camera that reads it comes here."""
    return _open(request, LabelText(code, practice), LabelForm())


def _open(request: HttpRequest, label: LabelText, form: LabelForm) -> HttpResponse:
    if label.practice and label.practice != practice_id():
        return _not_opened(request, form, 404, other=label)
    if not Specimen.objects.filter(code=label.code).exists():
        return _not_opened(request, form, 404, unknown=label)
    return redirect("labtests:specimen-detail", label.code)


def _not_opened(request: HttpRequest, form: LabelForm, status: int, **why: LabelText) -> HttpResponse:
    return render(request, "labtests/specimen_open.html", {"form": form, **why}, status=status)


@gate("labtests.specimen:write")
@require_http_methods(["GET", "HEAD", "POST"])
def specimens_receive(request: HttpRequest) -> HttpResponse:
    form = ReceiveForm(request.POST or None, initial={"shoe": request.GET.get("shoe", "")})
    if request.method == "POST" and form.is_valid():
        found = _receive(request, form)
        if found:
            query = urlencode([("code", specimen.code) for specimen in found])
            return redirect(f"{reverse('labtests:specimen-labels')}?{query}")
    context = {"form": form, "names": names_of_shoes()}
    return render(request, "labtests/specimens_receive.html", context, status=status_of(form))


def _receive(request: HttpRequest, form: ReceiveForm) -> list[Specimen]:
    read = form.cleaned_data
    shoe = Shoe.objects.filter(slug=read["shoe"]).first()
    if shoe is None:
        form.add_error(
            "shoe", f"The catalogue has no shoe {quoted(read['shoe'])}; check the name or add the shoe first."
        )
        return []
    given = {name: read[name] for name in ("size_eu", "sides", "kind", "stem", "place")}
    found: list[Specimen] = []
    with problems_in(form):
        found.extend(services.specimens_receive(actor=actor_of(request), shoe=shoe, receipt=form.receipt(), **given))
    return found


@gate("labtests.specimen:view")
@require_safe
def specimen_labels(request: HttpRequest) -> HttpResponse:
    """Labels to print."""
    found = specimens.specimens_named(request.GET.getlist("code")[:LABELS_MOST])
    practice = practice_id()
    labels = [words.label_of(specimen, practice) for specimen in found]
    return render(request, "labtests/specimen_labels.html", {"labels": labels})


@gate("labtests.specimen:view")
@require_safe
def retest_list(request: HttpRequest) -> HttpResponse:
    """Published shoes that are due to be tested again."""
    form = RetestForm(request.GET)
    due = retests(timezone.localdate(), *form.asked()) if form.is_valid() else []
    page = Paginator(due, PAGE).get_page(request.GET.get("page"))
    context = {"form": form, "page": page, "lines": [words.retest_line(one) for one in page.object_list]}
    return render(request, "labtests/retest_list.html", context, status=status_of(form))


@gate("labtests.specimen:view")
@require_safe
def specimen_detail(request: HttpRequest, code: str) -> HttpResponse:
    return _detail(request, code)


def _detail(request: HttpRequest, code: str, **forms_: forms.Form) -> HttpResponse:
    specimen = specimens.specimen_page(code)
    tests = list(specimens.tests_of(specimen)[:TESTS_SHOWN])
    context: dict[str, Any] = {
        "specimen": specimen,
        "facts": words.specimen_facts(specimen),
        "tests": [presentation.test_line(test) for test in tests],
        "with_curves": [test.pk for test in tests if test.source == "curves"],
        "stays": [entry_line(entry, timezone.now()) for entry in specimens.stays_of(specimen)],
        "has_wear": specimens.distances_of(specimen) > 1,
        "duty": duty_current_of(specimen),
        "may_write": allowed(request.user, "labtests.specimen:write"),
        "move": MoveForm(initial={"place": specimen.place}),
        "dispose": DisposeForm(auto_id="id_dispose_%s"),
        "restore": ReasonForm(auto_id="id_restore_%s"),
        **forms_,
    }
    is_wrong = any(form.errors for form in forms_.values())
    return render(request, "labtests/specimen_detail.html", context, status=400 if is_wrong else 200)


@gate("labtests.specimen:write")
@require_POST
def specimen_move(request: HttpRequest, code: str) -> HttpResponse:
    specimen, form = specimens.specimen_page(code), MoveForm(request.POST)
    if form.is_valid():
        with problems_in(form):
            services.specimen_move(actor=actor_of(request), specimen=specimen, **form.cleaned_data)
            messages.success(request, f"The place of {code} is noted.")
    return _detail(request, code, move=form) if form.errors else redirect("labtests:specimen-detail", code)


@gate("labtests.specimen:write")
@require_POST
def specimen_dispose(request: HttpRequest, code: str) -> HttpResponse:
    specimen, form = specimens.specimen_page(code), DisposeForm(request.POST, auto_id="id_dispose_%s")
    if form.is_valid():
        with problems_in(form):
            services.specimen_dispose(actor=actor_of(request), specimen=specimen, **form.cleaned_data)
            messages.success(request, f"It is noted that {code} was disposed of. Its tests stay on record.")
    return _detail(request, code, dispose=form) if form.errors else redirect("labtests:specimen-detail", code)


@gate("labtests.specimen:write")
@require_POST
def specimen_restore(request: HttpRequest, code: str) -> HttpResponse:
    specimen, form = specimens.specimen_page(code), ReasonForm(request.POST, auto_id="id_restore_%s")
    if form.is_valid():
        with problems_in(form):
            services.specimen_restore(actor=actor_of(request), specimen=specimen, **form.cleaned_data)
            messages.success(request, f"{code} is in the lab again.")
    return _detail(request, code, restore=form) if form.errors else redirect("labtests:specimen-detail", code)
