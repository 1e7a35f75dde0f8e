"""A file of shoes, and what a preview of it sends back with the confirmation."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.core import signing
from django.core.files.uploadedfile import UploadedFile

from catalogue.services.csv_file import BYTES_MOST
from core.domain.errors import DomainError
from core.domain.figures import grouped

STAGED_SALT = "catalogue.shoe-import"
STAGED_SECONDS = 4 * 3600


class ShoeFileForm(forms.Form):
    file = forms.FileField(
        label="File of shoes",
        help_text="CSV in UTF-8, separated by commas, semicolons or tabs; up to 1 MB and 1000 shoes.",
        widget=forms.FileInput(attrs={"accept": ".csv,text/csv"}),
        allow_empty_file=True,
    )

    def clean_file(self) -> UploadedFile[Any]:
        file: UploadedFile[Any] = self.cleaned_data["file"]
        size = file.size or 0
        if size > BYTES_MOST:
            raise forms.ValidationError(f"The file is larger than 1 MB ({grouped(size)} bytes). Send it in parts.")
        return file


def staged_text(rows: Sequence[tuple[int, Mapping[str, str]]]) -> str:
    """Write the rows that a preview showed, signed, to come back with the confirmation."""
    return signing.dumps([[row, dict(cells)] for row, cells in rows], salt=STAGED_SALT, compress=True)


def read_staged(text: str) -> list[tuple[int, dict[str, str]]]:
    """Read them again; they are refused where they were changed or are too old."""
    try:
        staged = signing.loads(text, salt=STAGED_SALT, max_age=STAGED_SECONDS)
    except signing.BadSignature as problem:
        raise DomainError(
            "This preview is too old or came back damaged. Send the file again.", code="stale_preview"
        ) from problem
    return [(row, cells) for row, cells in staged]
