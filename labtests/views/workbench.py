"""Pages of several tests: the list, its exports, a decision on several, the months of the lab."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_http_methods, require_safe

from core.domain.errors import DomainError
from core.gate.access import allowed, gate
from core.gate.context import units_of
from core.web.csv_export import csv_response
from core.web.forms import add_problem, status_of
from core.web.requests import actor_of
from labtests import services
from labtests.forms.workbench import BenchTestFilterForm, DecideForm, numbers_in
from labtests.models import BenchTest
from labtests.presentation import bench_tests as presentation
from labtests.presentation.bench_test_columns import headings, test_row
from labtests.presentation.bench_test_export import ExportTable, csv_rows, parquet_bytes
from labtests.presentation.monthly_tests import month_line
from labtests.selectors.bench_test_export import exported_chunks
from labtests.selectors.bench_tests import Scales, bench_test_list, bench_tests_chosen
from labtests.selectors.throughput import throughput
from labtests.services.deciding import MOST_TESTS
from labtests.views.common import page_of

PARQUET = "application/vnd.apache.parquet"


@gate("labtests.test:view")
@require_safe
def test_list(request: HttpRequest) -> HttpResponse:
    form = BenchTestFilterForm(request.GET)
    rows = bench_test_list(form.asked()) if form.is_valid() else BenchTest.objects.none()
    page, columns = page_of(rows, request), form.columns()
    scales, system = Scales(), units_of(request)
    context = {
        "form": form,
        "page": page,
        "columns": columns,
        "headings": headings(columns, request.GET),
        "rows": [test_row(test, columns, scales, system) for test in page.object_list],
        "may_decide": allowed(request.user, "labtests.test:review"),
    }
    return render(request, "labtests/test_list.html", context, status=status_of(form))


@gate("labtests.test:view")
@require_safe
def test_export_csv(request: HttpRequest) -> HttpResponseBase:
    """The tests of the list as CSV, one row a repeat."""
    form = BenchTestFilterForm(request.GET)
    if not form.is_valid():
        return test_list(request)
    table = ExportTable.of_practice()
    return csv_response("tests.csv", table.schema.names, csv_rows(table, exported_chunks(form.asked())))


@gate("labtests.test:view")
@require_safe
def test_export_parquet(request: HttpRequest) -> HttpResponseBase:
    """The same table as Parquet, with the types of its columns."""
    form = BenchTestFilterForm(request.GET)
    if not form.is_valid():
        return test_list(request)
    pieces = parquet_bytes(ExportTable.of_practice(), exported_chunks(form.asked()))
    response = StreamingHttpResponse(pieces, content_type=PARQUET)
    name = content_disposition_header(as_attachment=True, filename="tests.parquet")
    response.headers["Content-Disposition"] = name or "attachment"
    return response


@gate("labtests.test:review")
@require_http_methods(["GET", "HEAD", "POST"])
def tests_decide(request: HttpRequest) -> HttpResponse:
    """One decision on the tests ticked in the list; the answer says for each what became of it."""
    is_sent = request.method == "POST"
    numbers = numbers_in((request.POST if is_sent else request.GET).getlist("test"), most=MOST_TESTS)
    chosen = bench_tests_chosen(numbers)
    form = DecideForm(request.POST if is_sent else None)
    decided = _decide(request, form, chosen) if is_sent and form.is_valid() else ()
    context: dict[str, Any] = {
        "form": form,
        "lines": [(test, presentation.badge(test)) for test in chosen],
        "decided": [(one, presentation.badge(one.test)) for one in decided],
        "n_done": sum(one.is_done for one in decided),
    }
    return render(request, "labtests/tests_decide.html", context, status=status_of(form))


def _decide(request: HttpRequest, form: DecideForm, chosen: list[BenchTest]) -> tuple[services.Decided, ...]:
    try:
        return services.bench_tests_decide(actor=actor_of(request), tests=chosen, **form.cleaned_data)
    except DomainError as problem:
        add_problem(form, problem)
        return ()


@gate("labtests.test:view")
@require_safe
def test_months(request: HttpRequest) -> HttpResponse:
    """Tests by month, the share that was held, and why."""
    lines = [month_line(month) for month in throughput(timezone.localdate())]
    return render(request, "labtests/test_months.html", {"lines": lines})
