"""What somebody sends to give a shoe a photo."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from catalogue.domain.photos import check_size
from catalogue.models import ALTERNATIVE_TEXT_MAX_LENGTH
from core.domain.errors import DomainError
from core.models import printable

ACCEPTED = "image/jpeg,image/png,image/webp,image/avif"


class PhotoForm(forms.Form):
    """A photo with its alternative text."""

    photo = forms.FileField(
        label="Photo",
        help_text="JPEG, PNG, WebP or AVIF, up to 20 MB and 50 million pixels, best from the side. Place, names and "
        "other data of the camera are removed.",
        widget=forms.FileInput(attrs={"accept": ACCEPTED}),
        allow_empty_file=True,
    )
    alternative_text = forms.CharField(
        label="What it shows",
        max_length=ALTERNATIVE_TEXT_MAX_LENGTH,
        validators=[printable],
        help_text="One sentence for people who can’t see the photo.",
    )

    def __init__(self, *args: Any, is_there: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["photo"].required = not is_there
        if is_there:
            self.fields["photo"].label = "Another photo"

    def clean_photo(self) -> UploadedFile[Any] | None:
        file: UploadedFile[Any] | None = self.cleaned_data["photo"]
        if file is not None:
            try:
                check_size(file.size or 0)
            except DomainError as problem:
                raise forms.ValidationError(problem.message) from problem
        return file
