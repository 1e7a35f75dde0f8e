"""Taking uploads in: previewed first without a trace, or stored once with every verdict."""

from __future__ import annotations

import datetime as dt
import hashlib
import uuid
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

from django.conf import settings
from django.db import connection, transaction
from django.db.models import Model
from django.utils import timezone

from core import audit
from core.audit import Change, Named
from core.audit.states import Spool, state_of
from core.database import copy as bulk
from core.domain.errors import DomainError
from core.gate.context import current_origin
from core.models import User
from labtests.domain.files.names import shown_name
from labtests.domain.files.problems import Problem
from labtests.domain.files.submission import SubmittedFile, read_submission, upload_kind
from labtests.models import (
    BenchTest,
    Curve,
    LoggedConditioning,
    Reading,
    Result,
    Specimen,
    StagedUpload,
    State,
    Upload,
)
from labtests.models.uploads import NAME_LENGTH
from labtests.services import test_rows
from labtests.services.bench.upload_lookups import UploadLookups
from labtests.services.judging import JudgedFile, JudgedTest, judge_files
from labtests.services.locks import MODEL_LOCK
from labtests.services.rights import needs
from labtests.services.studies.check_shoes import checks_judge_upload

# Files are judged and stored in chunks that end with whichever comes first, so that a large ZIP needs little memory.
# Chunks of 250 files take 4 % less time than those of 100.
CHUNK_FILES = 250
CHUNK_BYTES = 20_000_000
MAX_LISTED = 2000
STAGED_FOR = dt.timedelta(days=1)
# Uploads are stored one after the other: the same bytes twice make one record, a new specimen one row.
UPLOAD_LOCK = 7301455002


@dataclass(slots=True)
class Verdict:
    """What became of an upload, as in the API's answer and on record."""

    accepted: list[dict[str, Any]] = field(default_factory=list)
    held: list[dict[str, Any]] = field(default_factory=list)
    rejected: list[dict[str, Any]] = field(default_factory=list)
    warnings: list[dict[str, str]] = field(default_factory=list)

    def as_json(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in Verdict.__slots__}

    def reject(self, problems: Iterable[Problem]) -> None:
        """List problems; past `MAX_LISTED` in an upload one line says that there are more."""
        for problem in problems:
            if len(self.rejected) < MAX_LISTED:
                self.rejected.append(asdict(problem))
            elif len(self.rejected) == MAX_LISTED:
                more = Problem(problem.file, 1, "file", f"more than {MAX_LISTED} problems; the rest is not listed")
                self.rejected.append(asdict(more))

    def warn(self, file: SubmittedFile) -> None:
        room = MAX_LISTED - len(self.warnings)
        self.warnings.extend({"file": file.name, "warning": warning} for warning in file.warnings[: max(0, room)])

    def take(self, file: str, judged: JudgedTest, test: int | None) -> None:
        entry = {"file": file, "specimen": judged.specimen.code, "test": test}
        if judged.reasons:
            self.held.append(entry | _reasons((reason.code, reason.message) for reason in judged.reasons))
        else:
            self.accepted.append(entry)

    def point_to(self, file: str, test: BenchTest) -> None:
        """List a test that came from the same file in an earlier upload."""
        entry = {"file": file, "specimen": test.specimen.code, "test": test.pk, "stored_before": True}
        if test.state == State.HELD:
            self.held.append(entry | _reasons((reason["code"], reason["message"]) for reason in test.reasons))
        elif test.state == State.VOID:
            problem = f"this very file is on record as test {test.pk}, which was voided: {test.review_reason}"
            self.reject([Problem(file, 1, "file", problem)])
        else:
            self.accepted.append(entry)


def _reasons(reasons: Iterable[tuple[str, str]]) -> dict[str, list[str]]:
    """Codes and messages of reasons, as they are stored in a verdict."""
    codes, messages = zip(*reasons, strict=True)
    return {"reasons": list(messages), "codes": list(codes)}


@dataclass(frozen=True, slots=True, eq=False)
class _Fresh:
    """A judged test that is not on record yet, with its row; `key` is file and specimen."""

    key: tuple[str, str]
    judged: JudgedTest
    row: BenchTest


def clean_name(name: str) -> str:
    """A file's name as it may be stored and shown: one line, no folders, not too long."""
    plain = shown_name(name).replace("\\", "/").rsplit("/", 1)[-1].strip()
    return plain[-NAME_LENGTH:] or "upload"


def check_upload(data: bytes) -> None:
    if len(data) > settings.UPLOAD_MAX_BYTES:
        limit = settings.UPLOAD_MAX_BYTES // settings.MEBIBYTE
        raise DomainError(
            f"The upload is larger than {limit} MB. Send it in several parts.", code="too_large", status=413
        )


@needs("labtests.upload:create")
def upload_preview(
    *,
    actor: User,
    name: str,
    data: bytes,
    at: dt.datetime | None = None,
    look: Callable[[str, JudgedTest], None] | None = None,
) -> Verdict:
    """Say what would become of an upload; `look` is shown each test with the name of its file. Writes nothing."""
    check_upload(data)
    lookups, verdict, name = UploadLookups(at or timezone.now()), Verdict(), clean_name(name)
    known: dict[tuple[str, str], BenchTest] = {}
    for files in _chunks(read_submission(data, name=name)):
        lookups.expect(files)
        known |= lookups.stored([file.sha256 for file in files])
        for judged in judge_files(files, lookups):
            verdict.warn(judged.file)
            verdict.reject(judged.problems)
            for test in judged.tests:
                if look is not None:
                    look(judged.file.name, test)
                _preview_one(judged, test, known, verdict)
    return verdict


def _preview_one(
    judged: JudgedFile, test: JudgedTest, known: dict[tuple[str, str], BenchTest], verdict: Verdict
) -> None:
    before = known.get((judged.file.sha256, test.specimen.code))
    if before is not None:
        verdict.point_to(judged.file.name, before)
    else:
        verdict.take(judged.file.name, test, None)


@needs("labtests.upload:create")
@transaction.atomic
def upload_store(
    *,
    actor: User,
    name: str,
    data: bytes,
    at: dt.datetime | None = None,
    source: str | None = None,
    replaces: BenchTest | None = None,
) -> Upload:
    """Store an upload, its tests and its verdict, once.

    Parameters
    ----------
    at : when it was uploaded; now where left out
    source : where it came from; taken from the request where left out
    replaces : a test that the upload is to replace; charts of check shoes are judged without it

    Returns
    -------
    Upload
        With `is_repeat` set where the same bytes were stored before; then nothing was written.
    """
    check_upload(data)
    sha256 = hashlib.sha256(data).hexdigest()
    with connection.cursor() as cursor:
        # The scoring model stays the same until the tests are stored, or they would miss its successor's scores.
        cursor.execute("SELECT pg_advisory_xact_lock_shared(%s), pg_advisory_xact_lock(%s)", [MODEL_LOCK, UPLOAD_LOCK])
    known = Upload.objects.filter(sha256=sha256).first()
    if known is not None:
        known.is_repeat = True
        return known
    moment = at or timezone.now()
    upload = Upload(
        pk=bulk.take_ids(Upload, 1)[0],
        sha256=sha256,
        name=clean_name(name),
        kind=upload_kind(data),
        source=source or current_origin().kind,
        data=data,
        size_bytes=len(data),
        by=actor,
        at=moment,
        verdict={},
    )
    with Spool() as states:
        changes = _store_files(data, _Store(upload, UploadLookups(moment), states))
        alarms = checks_judge_upload(upload, leaving_out=replaces)
        # The trail is written last: its lock is held to the end of the transaction and others wait for it.
        audit.record_many(changes, actor=actor)
    audit.record_many(alarms, actor=None)
    return upload


def _store_files(data: bytes, store: _Store) -> list[Change]:
    verdict, upload, lookups = Verdict(), store.upload, store.lookups
    changes: list[Change] = []
    for files in _chunks(read_submission(data, name=upload.name)):
        lookups.expect(files)
        for file in files:
            verdict.warn(file)
        changes += store.chunk(judge_files(files, lookups), verdict)
    upload.verdict = verdict.as_json()
    # Once, with its verdict: the database looks for the upload of its tests when the transaction ends.
    bulk.copy_new([upload])
    action = "labtests.upload.typed_in" if upload.is_by_hand else "labtests.upload.stored"
    return [store.created(action, upload), *changes]


@dataclass(slots=True)
class _Store:
    """Stores an upload chunk by chunk; prepares for each record what the trail will say."""

    upload: Upload
    lookups: UploadLookups
    states: Spool

    def chunk(self, files: list[JudgedFile], verdict: Verdict) -> list[Change]:
        known = self.lookups.stored([judged.file.sha256 for judged in files])
        specimens = _new_specimens(files, known)
        fresh = _fresh_tests(self.upload, files, self.lookups, known)
        bulk.copy_new(specimens)
        changes = [self.created("labtests.specimen.created", specimen) for specimen in specimens]
        changes += self._tests(fresh)
        logged = _insert_logged(fresh)
        _list_files(files, known | {new.key: new.row for new in fresh}, fresh, verdict)
        return [*changes, *(Change("labtests.logged_conditioning.counted", Named.of(row)) for row in logged)]

    def created(self, action: str, subject: Model, **related: Sequence[test_rows.Row]) -> Change:
        """What the trail will say of a record that is new."""
        state = state_of(type(subject), vars(subject), related)
        return Change(action, Named.of(subject), after=self.states.keep(state))

    def _tests(self, fresh: list[_Fresh]) -> list[Change]:
        tests = [new.row for new in fresh]
        _give_ids(tests)
        bulk.copy_new(tests)
        curves = _copied(Curve, [test_rows.curve_rows(new.judged, new.row) for new in fresh])
        readings = _copied(Reading, [test_rows.reading_rows(new.judged, new.row) for new in fresh])
        results = _copied(Result, [test_rows.result_rows(new.judged, new.row, self.lookups) for new in fresh])
        return [
            self.created(_action_of(test), test, curves=its_curves, readings=its_readings, results=its_results)
            for test, its_curves, its_readings, its_results in zip(tests, curves, readings, results, strict=True)
        ]


def _copied(model: type[Model], groups: list[list[test_rows.Row]]) -> list[list[test_rows.Row]]:
    """Store rows and give them their ids."""
    every = [row for group in groups for row in group]
    if every:
        for row, pk in zip(every, bulk.take_ids(model, len(every)), strict=True):
            row["id"] = pk
        names = [*every[0]]
        bulk.copy_rows(model, names, ([row[name] for name in names] for row in every))
    return groups


def _list_files(
    files: list[JudgedFile], known: dict[tuple[str, str], BenchTest], fresh: list[_Fresh], verdict: Verdict
) -> None:
    """List what became of each file."""
    first_listed = {id(new.judged) for new in fresh}
    for judged in files:
        verdict.reject(judged.problems)
        for test in judged.tests:
            row = known[(judged.file.sha256, test.specimen.code)]
            if id(test) in first_listed:
                verdict.take(judged.file.name, test, row.pk)
            else:
                verdict.point_to(judged.file.name, row)


def _new_specimens(files: list[JudgedFile], known: dict[tuple[str, str], BenchTest]) -> list[Specimen]:
    """The specimens that these files bring, each once, with the ids they will have."""
    found = {
        test.specimen.code: test.specimen
        for judged in files
        for test in judged.tests
        if test.specimen._state.adding and (judged.file.sha256, test.specimen.code) not in known
    }
    _give_ids(list(found.values()))
    return list(found.values())


def _give_ids(instances: Sequence[Model]) -> None:
    if instances:
        for instance, pk in zip(instances, bulk.take_ids(type(instances[0]), len(instances)), strict=True):
            instance.pk = pk


def _fresh_tests(
    upload: Upload, files: list[JudgedFile], lookups: UploadLookups, known: dict[tuple[str, str], BenchTest]
) -> list[_Fresh]:
    """The tests that are not on record, each once though the upload may hold its file twice."""
    fresh: dict[tuple[str, str], _Fresh] = {}
    for judged in files:
        for test in judged.tests:
            key = (judged.file.sha256, test.specimen.code)
            if key not in known and key not in fresh:
                row = test_rows.test_row(test, upload, (judged.file.name, judged.file.sha256), lookups)
                fresh[key] = _Fresh(key, test, row)
    return list(fresh.values())


def _action_of(row: BenchTest) -> str:
    return "labtests.test.held" if row.state == State.HELD else "labtests.test.accepted"


def _insert_logged(fresh: list[_Fresh]) -> list[LoggedConditioning]:
    """Keep for each test of which the conditioning log speaks where its hours came from."""
    found = (test_rows.conditioning_row(new.judged, new.row) for new in fresh if new.judged.logged is not None)
    return LoggedConditioning.objects.bulk_create(row for row in found if row is not None)


def _chunks(files: Iterator[SubmittedFile]) -> Iterator[list[SubmittedFile]]:
    """Group files so that no chunk has more than `CHUNK_FILES`, or goes on after `CHUNK_BYTES` unpacked."""
    chunk: list[SubmittedFile] = []
    size = 0
    for file in files:
        chunk.append(file)
        size += file.size_bytes
        if len(chunk) == CHUNK_FILES or size >= CHUNK_BYTES:
            yield chunk
            chunk, size = [], 0
    if chunk:
        yield chunk


@needs("labtests.upload:create")
@transaction.atomic
def upload_stage(
    *, actor: User, name: str, data: bytes, batch: uuid.UUID | None = None, source: str = ""
) -> StagedUpload:
    """Store bytes for a day while they are previewed; what others left behind for longer is deleted.

    Files of one `batch` are previewed together; `source` says where they came from where the request does not.
    """
    check_upload(data)
    StagedUpload.objects.filter(at__lt=timezone.now() - STAGED_FOR).delete()
    return StagedUpload.objects.create(
        by=actor, name=clean_name(name), data=data, batch=batch or uuid.uuid4(), source=source
    )


@needs("labtests.upload:create")
@transaction.atomic
def upload_confirm(*, actor: User, staged: StagedUpload) -> Upload:
    """Store what was previewed."""
    upload = upload_store(actor=actor, name=staged.name, data=bytes(staged.data), source=staged.source or None)
    staged.delete()
    return upload


@needs("labtests.upload:create")
@transaction.atomic
def upload_unstage(*, actor: User, staged: StagedUpload) -> None:
    """Delete what was previewed and not wanted."""
    staged.delete()
