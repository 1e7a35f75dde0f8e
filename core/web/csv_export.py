"""CSV for spreadsheets: streamed row by row to save memory, with cells that never run as formulas."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence

from django.http import StreamingHttpResponse
from django.utils.http import content_disposition_header

# Characters that start a formula in a spreadsheet.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


class _Line:
    """A file object for `csv.writer` whose `write` returns the text."""

    def write(self, text: str) -> str:
        return text


def safe_cell(value: object) -> str:
    """Return a cell's text, with an apostrophe in front if a spreadsheet would run it as a formula.

    Numbers are unchanged: a minus sign before digits does not start a formula.
    """
    text = "" if value is None else str(value)
    is_number = isinstance(value, (int, float))
    return f"'{text}" if text.startswith(FORMULA_STARTS) and not is_number else text


def csv_response(name: str, header: Sequence[str], rows: Iterable[Sequence[object]]) -> StreamingHttpResponse:
    """Return a UTF-8 CSV file as a download."""

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
