"""Adopting a scoring model over many results, beside numpy and COPY alone.

Run: `python -m bench.rescore [results] [rounds]`; a million results and five rounds where left out.

The floor holds the readings in memory, computes every score and uncertainty with numpy, and writes rows of the same
columns by binary COPY into a table without index, key or trigger. The adoption reads tests and results from the
database, rescores them, writes the results beside the old ones with their indexes, seals them in the audit trail,
calculates every card again and moves the current model, all in one transaction.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import sys
from typing import TYPE_CHECKING

import numpy as np

from bench.measure import Line, interleave, open_practice, report

if TYPE_CHECKING:
    from core.models import User

SHOES, SPECIMENS = 500, 20
TARGET = 3.0


def main(results: int = 1_000_000, rounds: int = 5) -> None:
    open_practice("rescore")
    practice = Practice(results)
    floor = Floor()
    timings = interleave({"floor": floor.run, "adopt": practice.adopt, "reset": practice.reset}, rounds=rounds)
    practice.adopt()
    extra = interleave({"dry run": practice.dry_run, "verify": practice.verify}, rounds=2, warm=0)
    base, adopt = timings["floor"].median, timings["adopt"].median
    ratio = adopt / base
    report(
        f"Adopting a scoring model over {results:,} results, {SHOES} cards calculated again",
        [
            Line("floor: numpy + COPY alone", base, "s", 1.0),
            Line("adoption, one transaction", adopt, "s", ratio, f"<= {TARGET:g}", ratio <= TARGET),
            Line("results a second", results / adopt, "/s"),
            Line("dry run", extra["dry run"].median, "s", extra["dry run"].median / base),
            Line("check of the seal by verify_audit", extra["verify"].median, "s", extra["verify"].median / base),
        ],
    )


class Practice:
    """A lab with many tests of the shoes of one catalogue, every shoe published."""

    def __init__(self, results: int) -> None:
        self.author, self.reviewer = _reviewer("author"), _reviewer("reviewer")
        self.turn = 0
        _insert_practice(self.author)
        _insert_tests(results)
        _insert_results()
        _publish(self.reviewer)
        _settle()

    def _draft(self):
        from labtests import services
        from labtests.models import ScoringModel

        self.turn += 1
        current = ScoringModel.objects.get(is_current=True)
        draft = services.model_draft_create(actor=self.author, version=f"B{self.turn}", reason="bench", source=current)
        draft.torque_100_nm *= 1.02
        return draft

    def adopt(self) -> None:
        from labtests import services

        draft = self._draft()
        draft.save()
        services.model_adopt(actor=self.reviewer, draft=draft, revision=draft.revision, reason="bench")

    def dry_run(self) -> None:
        from labtests import services

        assert len(services.draft_dry_run(self._draft()).shoes) == SHOES

    def verify(self) -> None:
        from core.database.array_rows import seal_of
        from labtests.models import Adoption, Result

        assert seal_of(Result, "adoption_id", Adoption.objects.latest("pk").pk).rows > 0

    def reset(self) -> None:
        """Take the adoption's results away again, so that every round meets the same table."""
        from django.db import connection

        from labtests.models import ScoringModel

        with connection.cursor() as cursor:
            cursor.execute("DELETE FROM labtests_result WHERE adoption_id IS NOT NULL")
        ScoringModel.objects.filter(is_current=True).update(is_current=False)
        ScoringModel.objects.filter(version="S1").update(is_current=True)
        _settle()


def _reviewer(username: str) -> User:
    from core.gate.access import Role
    from core.models import Membership, User

    user = User.objects.create(username=username)
    Membership.objects.create(user=user, role=Role.REVIEWER)
    return user


def _settle() -> None:
    """Vacuum, so that no round pays for the one before."""
    from django.db import connection

    from core.database.roles import as_owner

    with as_owner(), connection.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE labtests_result")
        cursor.execute("VACUUM ANALYZE labtests_benchtest")
        cursor.execute("CHECKPOINT")


def _insert_practice(author) -> None:
    from catalogue.models import Brand, Shoe
    from labtests.models import Rig, Specimen, Upload

    brand = Brand.objects.create(slug="bench", name="Bench")
    shoes = Shoe.objects.bulk_create(
        Shoe(slug=f"shoe-{n}", brand=brand, name=f"Shoe {n}", version="1") for n in range(SHOES)
    )
    Specimen.objects.bulk_create(
        Specimen(code=f"{shoe.slug}-{n}", shoe=shoe, size_eu=42, side="left")
        for shoe in shoes
        for n in range(SPECIMENS)
    )
    Rig.objects.create(code="rig-1")
    Upload.objects.create(
        sha256="0" * 64,
        name="bench",
        kind="zip",
        source="bench",
        data=b"",
        size_bytes=0,
        by=author,
        at=dt.datetime(2026, 1, 1, tzinfo=dt.UTC),
        verdict={"accepted": [], "held": [], "rejected": [], "warnings": []},
    )


_TESTS = (
    "file_name, file_sha256, source, performed_at, conditioned_h, temperature_c, heel_clamp_n, forefoot_clamp_n, extra,"
    " torque_15_nm, deflection_mm, work_j, work_is_estimated, energy_return, state, is_released, reasons, reviewed_at,"
    " review_reason, operator_id, protocol_id, reviewed_by_id, rig_id, specimen_id, upload_id"
)


def _insert_tests(n: int) -> None:
    """Tests by COPY; their foreign keys are not checked row by row, as all of them are right."""
    from core.models import User
    from labtests.models import Protocol, Rig, Specimen, Upload

    rng = np.random.default_rng(20260301)
    specimens = np.array(Specimen.objects.order_by("pk").values_list("pk", flat=True))
    place = np.arange(n) % len(specimens)
    stiff = rng.normal(0.0, 1.0, len(specimens) // SPECIMENS)[place // SPECIMENS]
    torque = 5.0 + 1.2 * stiff + rng.normal(0.0, 0.05, n)
    deflection = 6.5 - 0.6 * stiff + rng.normal(0.0, 0.04, n)
    work = 1.4 + rng.normal(0.0, 0.1, n)
    author, protocol, rig, upload = (m.objects.values_list("pk", flat=True)[0] for m in (User, Protocol, Rig, Upload))
    fixed = f"{author}\t{protocol}\t{author}\t{rig}"
    conditions = "2026-03-01T10:00:00+00\t48.5\t23.1\t445\t178\t{}"
    verdict = "f\t0.71\tapproved\tf\t[]\t2026-03-03T10:00:00+00\tsound"
    rows = zip(specimens[place].tolist(), torque.tolist(), deflection.tolist(), work.tolist(), strict=True)
    with _unchecked() as cursor, cursor.copy(f"COPY labtests_benchtest ({_TESTS}) FROM STDIN") as copy:
        for number, (specimen, t, d, w) in enumerate(rows):
            copy.write(
                f"{number}.csv\t{number:064x}\tcurves\t{conditions}\t{t!r}\t{d!r}\t{w!r}\t{verdict}\t{fixed}"
                f"\t{specimen}\t{upload}\n"
            )


def _unchecked():
    """A cursor as the owner, with triggers and keys off."""
    from contextlib import contextmanager

    from django.db import connection, transaction

    from core.database.roles import as_owner

    @contextmanager
    def opened():
        with as_owner(), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET LOCAL session_replication_role = replica")
            yield cursor

    return opened()


def _insert_results() -> None:
    from core.database.array_rows import insert_rows, read_columns
    from labtests.domain.scores.scoring import S1, SCORES, score
    from labtests.models import Result, ScoringModel

    names = ("torque_15_nm", "deflection_mm", "work_j")
    columns = {"id": ("id", "bigint"), **{name: (name, "double precision") for name in names}}
    tests = read_columns("labtests_benchtest", columns)
    scores = score(*(tests[name] for name in names), model=S1)
    rng = np.random.default_rng(3)
    columns = {name: getattr(scores, name) for name in SCORES}
    for name in SCORES:
        a, b = rng.uniform(0.2, 0.9, (2, len(tests["id"])))
        columns |= {f"{name}_u_a": a, f"{name}_u_b": b, f"{name}_u": np.hypot(a, b)}
        columns[f"{name}_df"] = 2.0 * (a**2 + b**2) ** 2 / a**4
    columns |= {
        "test_id": tests["id"],
        "scoring_model_id": ScoringModel.objects.get(is_current=True).pk,
        "adoption_id": None,
        "cushioning_estimated": False,
        "repeats_df": np.full(len(tests["id"]), 2.0),
        "setup_df": None,
        "correlation_rearfoot_cushioning": rng.uniform(-0.9, -0.5, len(tests["id"])),
        "budgets": {},
    }
    with _unchecked():
        insert_rows(Result, columns)


def _publish(reviewer) -> None:
    """Publish every shoe by what the model in use says, as an adoption would."""
    from catalogue.services import score_cards_replace
    from labtests.models import ScoringModel, Specimen
    from labtests.selectors.scores import methods, rescoring
    from labtests.selectors.scores.cards_now import CardNow
    from labtests.services.scores.cards import scores_to_publish
    from labtests.services.scores.pools import pools_refresh

    model = ScoringModel.objects.select_related("scale").get(is_current=True)
    old, bands = model.to_domain(), methods.bands_of(model.scale)
    shoes = Specimen.objects.order_by("shoe_id").values_list("shoe_id", flat=True).distinct()
    cards = [CardNow(shoe, "", "", 0.0, None, 1, "", 1, "S1") for shoe in shoes]
    pools_refresh(shoes=(), at=dt.datetime(2026, 3, 5, tzinfo=dt.UTC))
    tests = rescoring.scored_tests(model)
    rescored = rescoring.rescored_by(old, tests, old, old_bands=bands, bands=bands)
    changes = rescoring.shoe_changes(tests, rescored, bands, cards=cards, specimens=rescoring.specimens_of(cards))
    scores = {change.now.shoe_id: scores_to_publish(change.then, model, model.scale) for change in changes}
    at = dt.datetime(2026, 3, 5, tzinfo=dt.UTC)
    score_cards_replace(actor=reviewer, scores=scores, scale=model.scale, reason="bench", at=at)


class Floor:
    """Numpy and COPY alone."""

    def __init__(self) -> None:
        from django.db import connection

        from core.database.array_rows import columns_of
        from core.database.roles import as_owner
        from labtests.models import Result, ScoringModel
        from labtests.selectors.scores.rescoring import scored_tests

        self.tests = scored_tests(ScoringModel.objects.get(version="S1"))
        self.names = columns_of(Result)
        with as_owner(), connection.cursor() as cursor:
            cursor.execute("CREATE TABLE floor AS SELECT * FROM labtests_result WITH NO DATA")
            cursor.execute("GRANT ALL ON floor TO benchlast_app")

    def run(self) -> None:
        from django.db import connection, transaction

        rows = self._rows()
        sql = f"COPY floor ({', '.join(self.names)}) FROM STDIN (FORMAT BINARY)"
        with transaction.atomic(), connection.cursor() as cursor, cursor.copy(sql) as copy:
            copy.write(b"PGCOPY\n\xff\r\n\0" + bytes(8))
            view = memoryview(rows).cast("B")
            for start in range(0, len(view), 1 << 20):
                copy.write(view[start : start + (1 << 20)])
            copy.write(b"\xff\xff")
        with connection.cursor() as cursor:
            cursor.execute("TRUNCATE floor")

    def _rows(self):
        from labtests.domain.scores.scoring import S1, SCORES, score
        from labtests.domain.uncertainty.uncertainty_parts import convert

        model = dataclasses.replace(S1, torque_100_nm=S1.torque_100_nm * 1.02)
        tests = self.tests
        scores = score(tests["torque_15_nm"], tests["deflection_mm"], tests["work_j"], model=model)
        parts = convert(tests.parts, old=S1, new=model)
        known = (("_u", parts.u), ("_u_a", parts.type_a), ("_u_b", parts.type_b), ("_df", parts.df))
        values = {f"{name}{end}": getattr(part, name) for end, part in (("", scores), *known) for name in SCORES}
        values |= {
            "id": np.arange(len(tests)),
            "test_id": tests["id"],
            "scoring_model_id": 2,
            "adoption_id": 1,
            "cushioning_estimated": False,
            "budgets": b"\x01{}",
            "repeats_df": parts.repeats_df,
            "setup_df": 1.0,
            "correlation_rearfoot_cushioning": tests.correlation,
        }
        kinds = {"budgets": "S3", "cushioning_estimated": "?"}
        spec = [("n", ">i2")]
        for name in self.names:
            kind = kinds.get(name, ">i8" if name.endswith("id") else ">f8")
            spec += [(f"length of {name}", ">i4"), (name, kind)]
        rows = np.zeros(len(tests), dtype=np.dtype(spec))
        rows["n"] = len(self.names)
        for name in self.names:
            rows[f"length of {name}"] = rows.dtype[name].itemsize
            rows[name] = values[name]
        return rows


if __name__ == "__main__":
    main(*(int(word.replace("_", "")) for word in sys.argv[1:]))
