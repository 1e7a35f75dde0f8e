"""Files chosen together: previewed together, and stored, each as an upload of its own, or forgotten."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass

from django.conf import settings
from django.db import transaction

from core.domain.errors import DomainError
from core.models import User
from labtests.models import StagedUpload, Upload
from labtests.services.bench.uploads import Verdict, upload_confirm, upload_preview, upload_stage, upload_unstage
from labtests.services.judging import JudgedTest
from labtests.services.rights import needs

# A page with more drawings than this is slow to open on a bench's old computer.
MOST_DRAWN = 12
MOST_FILES = 100


@dataclass(frozen=True, slots=True)
class GivenFile:
    """A file as it was chosen."""

    name: str
    data: bytes


@dataclass(frozen=True, slots=True, eq=False)
class FilePreview:
    """What would become of one file: `drawn` are its first tests to look at, of `tests` in all."""

    staged: StagedUpload
    verdict: Verdict
    drawn: tuple[tuple[str, JudgedTest], ...]
    tests: int

    @property
    def not_drawn(self) -> int:
        return self.tests - len(self.drawn)


@dataclass(frozen=True, slots=True, eq=False)
class BatchPreview:
    """What would become of files that were chosen together."""

    files: tuple[FilePreview, ...]

    @property
    def has_problems(self) -> bool:
        return any(file.verdict.rejected for file in self.files)


@needs("labtests.upload:create")
@transaction.atomic
def batch_stage(*, actor: User, files: Sequence[GivenFile], source: str = "") -> uuid.UUID:
    """Store files for a day while they are previewed together."""
    if not files:
        raise DomainError("Choose a file.", code="no_file", fields={"file": ["Choose a file."]})
    if len(files) > MOST_FILES:
        message = f"{len(files)} files at once; at most {MOST_FILES} are accepted. Put them into a ZIP."
        raise DomainError(message, code="too_many", fields={"file": [message]})
    if len(files) > 1 and sum(len(file.data) for file in files) > settings.UPLOAD_MAX_BYTES:
        limit = settings.UPLOAD_MAX_BYTES // settings.MEBIBYTE
        message = f"The files together are larger than {limit} MB. Send them in several parts."
        raise DomainError(message, code="too_large", status=413, fields={"file": [message]})
    batch = uuid.uuid4()
    for file in files:
        upload_stage(actor=actor, name=file.name, data=file.data, batch=batch, source=source)
    return batch


@needs("labtests.upload:create")
def batch_preview(*, actor: User, staged: Sequence[StagedUpload]) -> BatchPreview:
    """Judge files for a preview; the first `MOST_DRAWN` tests are drawn. Writes nothing."""
    left = MOST_DRAWN
    files = []
    for one in staged:
        preview = _file_preview(actor, one, left)
        left -= len(preview.drawn)
        files.append(preview)
    return BatchPreview(tuple(files))


def _file_preview(actor: User, staged: StagedUpload, most_drawn: int) -> FilePreview:
    drawn: list[tuple[str, JudgedTest]] = []
    seen = 0

    def look(file: str, test: JudgedTest) -> None:
        nonlocal seen
        seen += 1
        # The curves of the others are let go, so that a large ZIP takes no more memory than a small one.
        if len(drawn) < most_drawn:
            drawn.append((file, test))

    verdict = upload_preview(actor=actor, name=staged.name, data=bytes(staged.data), look=look)
    return FilePreview(staged, verdict, tuple(drawn), seen)


@needs("labtests.upload:create")
@transaction.atomic
def batch_confirm(*, actor: User, staged: Sequence[StagedUpload], keep: frozenset[int] | None = None) -> list[Upload]:
    """Store the files that were previewed, all or, with `keep`, those of these numbers; the others are forgotten."""
    uploads = []
    for one in staged:
        if keep is None or one.pk in keep:
            uploads.append(upload_confirm(actor=actor, staged=one))
        else:
            upload_unstage(actor=actor, staged=one)
    return uploads


@needs("labtests.upload:create")
@transaction.atomic
def batch_forget(*, actor: User, staged: Sequence[StagedUpload]) -> None:
    """Delete what was previewed and not wanted."""
    for one in staged:
        upload_unstage(actor=actor, staged=one)
