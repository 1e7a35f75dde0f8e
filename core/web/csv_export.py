"""Tables for spreadsheets: CSV, row by row, so that a long one needs no memory and a cell never becomes a formula."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence

from django.http import StreamingHttpResponse
from django.utils.http import content_disposition_header

# What a spreadsheet takes for the beginning of a formula.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


class _Line:
    """A file that hands back what is written to it."""

    def write(self, text: str) -> str:
        return text


def safe_cell(value: object) -> str:
    """Return a cell's text; one that a spreadsheet would run as a formula gets an apostrophe before it.

    Numbers stay as they are: a minus before digits is no formula.
    """
    text = "" if value is None else str(value)
    is_number = isinstance(value, (int, float))
    return f"'{text}" if text.startswith(FORMULA_STARTS) and not is_number else text


def csv_response(name: str, header: Sequence[str], rows: Iterable[Sequence[object]]) -> StreamingHttpResponse:
    """Answer with a CSV file in UTF-8 as a download."""

    def lines() -> Iterator[str]:
        writer = csv.writer(_Line())
        yield writer.writerow(header)
        for row in rows:
            yield writer.writerow([safe_cell(value) for value in row])

    response = StreamingHttpResponse(lines(), content_type="text/csv; charset=utf-8")
    disposition = content_disposition_header(as_attachment=True, filename=name)
    response.headers["Content-Disposition"] = disposition or "attachment"
    response.headers["X-Content-Type-Options"] = "nosniff"
    return response
