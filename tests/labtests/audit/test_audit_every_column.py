"""Nothing that is stored of the lab can be changed, added or taken away behind the trail's back without being found.

The tables and columns come from Django's registry: a new one is covered without further work, and a new table without
a row in `every_record` fails the test that asks for it.
"""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import replace
from decimal import Decimal

import pytest
from django.apps import apps
from django.db import connection, models, transaction
from django.utils import timezone

from catalogue import services as catalogue
from core.accounts.two_accounts import act_ask
from core.audit import record_kinds
from core.audit.verification import chain_faults, faults, orphan_faults, record_faults
from core.gate.access import Role
from core.models import AccountAct, AuditEntry
from labtests import services
from labtests.models import ScoringModel, Specimen
from labtests.selectors.bench.incidents import Period
from tests.catalogue.photo_files import encoded, picture
from tests.labtests.bench_text import bench_bytes, readings_bytes
from tests.labtests.services.bench.test_conditioning_log import NEW, put_in
from tests.labtests.services.scores.test_protocol_adoption import given_protocol
from tests.labtests.services.studies.test_checks_alarms import MARCH, STEADY, bench_check, one_test_a_file, zipped
from tests.people import person
from tests.stock import stock_set

# Tables of the lab that are no records, and why.
KEPT_OUT = {
    "labtests.stagedupload": "bytes that somebody looks at before anything is stored; gone after a day",
    "labtests.shoescatter": "sums that follow from the tests and are worked out again with each publication",
    "labtests.variancepool": "sums that follow from the tests and are worked out again with each publication",
}
# Columns that change without being a change of the record, or that the trail must never hold.
NOT_COMPARED = {
    "core.user": {"last_login"},
    # Repeats the score card beside the stock; triggers set it whatever is written.
    "catalogue.stockitem": {"stability"},
    # May name a customer, who may ask to have it removed.
    "catalogue.reservation": {"note"},
    "catalogue.faultreport": {"words"},
}
FAR = 1_000_000


class _UndoError(Exception):
    """Rolls a mutation back."""


def lab_tables():
    """Every table of the lab, those that Django makes by itself included."""
    found = apps.get_app_config("labtests").get_models(include_auto_created=True)
    return [model for model in found if model._meta.label_lower not in KEPT_OUT]


def tables():
    """The lab's tables, and every other one that a checked record outside the fittings is made of."""
    kinds = [kind for kind in record_kinds() if kind.model._meta.app_label in ("core", "catalogue", "labtests")]
    parts = [kind.model._meta.get_field(name).related_model for kind in kinds for name in kind.related]
    return list(dict.fromkeys([*lab_tables(), *(kind.model for kind in kinds), *parts]))


@pytest.fixture
def every_record(lab, cast, settings):
    """One row at least of every table, made by the services."""
    settings.STORAGES = settings.STORAGES | {"default": {"BACKEND": "django.core.files.storage.InMemoryStorage"}}
    tests = [lab.approved(specimen="F2-01"), lab.approved(specimen="F2-02", side="right", torque_15=5.2)]
    doubtful = lab.approved(specimen="F2-05", performed="2026-03-03T09:00:00+00:00")
    lab.upload(readings_bytes(), name="readings.csv")
    lab.upload(bench_bytes(temperature="30 degC", specimen="F2-03"), name="held.csv")
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first tests")
    services.rig_stop(actor=lab.technician, rig=services.rig_create(actor=None, code="rig-2"), reason="a loose clamp")
    _pair_received_and_disposed_of(lab)
    put_in(lab, services.chamber_create(actor=lab.reviewer, code="C-1"), specimen=replace(NEW, code="F2-04"))
    lab.accepted(specimen="F2-04")
    services.climate_import(
        actor=lab.technician,
        given=services.ClimateGiven(
            services.chamber_create(actor=lab.reviewer, code="C-2"),
            "logger.csv",
            b"time,temperature [degC]\n2026-03-02T10:00:00Z,23.1\n",
        ),
    )
    services.protocol_draft_create(actor=lab.reviewer, version="P2", given=given_protocol(), reason="summer")
    _model_adopted(lab)
    catalogue.print_run_record(
        actor=lab.reviewer, store=cast.store_a, shoes=[lab.shoe.pk], paper="a4", cards_per_sheet=4
    )
    _incident_of(lab, doubtful)
    _check_shoe_out_of_control(lab)
    services.gauge_study_plan(
        actor=lab.reviewer,
        title="Two people",
        rig=lab.rig,
        specimens=["F2-01", "F2-02"],
        operators=["technician", "reviewer"],
        trials=2,
        begins_on=MARCH,
        reason="yearly",
    )
    services.temperature_study_plan(
        actor=lab.reviewer, title="Warm foam", rig=lab.rig, specimen="F2-01", begins_on=MARCH, reason="yearly"
    )
    stock_set(actor=None, store=cast.store_a, shoe=lab.shoe, size_eu=Decimal("42.5"), quantity=2)
    _stock_work(lab, cast)
    _other_shoe(lab, cast)
    act_ask(actor=cast.office, user=cast.technician, act=AccountAct.ROLE, role=Role.REVIEWER, reason="promoted")
    with connection.cursor() as cursor:
        # Nothing may wait for the end of the transaction where tables are going to be altered.
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    return tests


def _pair_received_and_disposed_of(lab):
    receipt = services.ReceiptGiven("shop", MARCH, batch="B 7", price=Decimal("120.00"), currency="EUR")
    for specimen in services.specimens_receive(
        actor=lab.technician, shoe=lab.shoe, size_eu=Decimal("42.5"), receipt=receipt, place="shelf 4"
    ):
        services.specimen_dispose(actor=lab.technician, specimen=specimen, on=MARCH, reason="torn")


def _stock_work(lab, cast):
    pair = catalogue.Pairs(lab.shoe, Decimal("42.5"), 1)
    catalogue.transfer_send(actor=lab.reviewer, from_store=cast.store_a, to_store=cast.store_b, pairs=[pair])
    catalogue.reservation_make(
        actor=lab.reviewer,
        store=cast.store_a,
        shoe=lab.shoe,
        size_eu=pair.size_eu,
        quantity=1,
        note="",
        until=timezone.localdate(),
    )


def _other_shoe(lab, cast):
    """A shoe with barcode, photo and an earlier address, and one that a store asks for."""
    shoe = catalogue.shoe_create(actor=lab.reviewer, brand=lab.shoe.brand, name="Fenstrider", use="walking")
    barcodes = [catalogue.Barcode("4006381333931", Decimal("42.5"))]
    shoe = catalogue.shoe_correct(
        actor=lab.reviewer, shoe=shoe, changes={"slug": "fenstrider-1"}, reason="a version", barcodes=barcodes
    )
    catalogue.photo_set(actor=lab.reviewer, shoe=shoe, data=encoded(picture()), alternative_text="From the side")
    report = catalogue.fault_report(
        actor=cast.manager_a,
        store=cast.store_a,
        shoe=lab.shoe,
        size_eu=Decimal("42.5"),
        words="The sole came off",
        chosen_at=timezone.now(),
    )
    catalogue.fault_answer(actor=lab.technician, report=report, answer="Told the maker")
    catalogue.wish_ask(actor=cast.manager_a, store=cast.store_a, brand="Fenwright", name="Fenleaper")


def _model_adopted(lab):
    current = ScoringModel.objects.get(is_current=True)
    author = person("author", "reviewer")
    draft = services.model_draft_create(actor=author, version="S2", reason="a try", source=current)
    services.model_adopt(actor=lab.reviewer, draft=draft, revision=draft.revision, reason="agreed")


def _incident_of(lab, test):
    period = Period(lab.rig, "torque", test.performed_at, test.performed_at)
    lab.incident(period)


def _check_shoe_out_of_control(lab):
    lab.upload(zipped(one_test_a_file(STEADY)), name="checks.zip")
    shoe = Specimen.objects.get(code="CHK-1")
    services.check_shoe_designate(actor=lab.technician, rig=lab.rig, specimen=shoe, since=MARCH, reason="daily check")
    lab.upload(bench_check(5.5), name="drifted.csv")


@contextmanager
def as_administrator(*stripped):
    """Work as the owner of the database who has switched its triggers off and dropped the constraints of tables."""
    with connection.cursor() as cursor:
        cursor.execute("RESET ROLE; SET LOCAL ROLE NONE; SET LOCAL session_replication_role = replica")
        for model in stripped:
            strip(cursor, model._meta.db_table)
        yield cursor
        cursor.execute("SET LOCAL session_replication_role = origin; SET LOCAL ROLE benchlast_app")


def strip(cursor, table):
    cursor.execute(
        "SELECT conname FROM pg_constraint WHERE conrelid = %s::regclass AND contype IN ('c', 'u', 'x')", [table]
    )
    for (name,) in cursor.fetchall():
        cursor.execute(f'ALTER TABLE "{table}" DROP CONSTRAINT "{name}" CASCADE')
    cursor.execute(
        "SELECT indexrelid::regclass FROM pg_index WHERE indrelid = %s::regclass AND indisunique AND NOT indisprimary",
        [table],
    )
    for (name,) in cursor.fetchall():
        cursor.execute(f"DROP INDEX {name}")


def another_value(column, kind):
    """SQL for a value that differs from the column's, in the least way that its type has."""
    quoted = f'"{column.column}"'
    if column.remote_field and not column.primary_key:
        target = column.remote_field.model._meta
        other = f'SELECT min("{target.pk.column}") FROM "{target.db_table}" AS other'
        return f'coalesce(({other} WHERE other."{target.pk.column}" <> coalesce(row.{quoted}, -1)), {FAR})'
    if "[" in str(column.db_type(connection)):
        return f"array_append({quoted}, NULL)"
    return {
        "boolean": f"NOT coalesce({quoted}, false)",
        "uuid": "gen_random_uuid()",
        "bytea": rf"{quoted} || '\x00'::bytea",
        "jsonb": f"jsonb_build_array({quoted})",
        "double precision": f"coalesce({quoted} * (1 + 1e-15) + 1e-300, 0)",
        "numeric": f"coalesce({quoted} + 0.5, 40)",
        "date": f"coalesce({quoted} + 1, current_date)",
        "timestamp with time zone": f"coalesce({quoted} + interval '1 microsecond', now())",
    }.get(kind) or (
        f"coalesce({quoted}, 0) + {FAR if column.primary_key else 1}"
        if kind in ("bigint", "integer", "smallint")
        else f"CASE WHEN {quoted} = '' THEN 'x' ELSE left({quoted}, -1) || '~' END"
    )


def mutations(model):
    """Each way to change one stored column of one row: its words and the SQL."""
    table, skipped = model._meta.db_table, NOT_COMPARED.get(model._meta.label_lower, set())
    for column in model._meta.concrete_fields:
        if column.generated or column.attname in skipped:
            continue
        kind = str(column.db_type(connection)).partition("(")[0]
        first = f'SELECT "{model._meta.pk.column}" FROM "{table}" ORDER BY 1'
        values = {"": (another_value(column, kind), "TRUE")}
        if column.null:
            values[" emptied"] = ("NULL", f'"{column.column}" IS NOT NULL')
        for words, (value, condition) in values.items():
            sql = (
                f'UPDATE "{table}" AS row SET "{column.column}" = {value}'
                f' WHERE "{model._meta.pk.column}" = ({first.replace(" ORDER", f" WHERE {condition} ORDER")} LIMIT 1)'
            )
            yield f"{model._meta.label_lower}.{column.attname}{words}", sql


def try_out(cursor, sql, look):
    """Run one statement, look what is found, undo it. Returns how many rows it hit, and what was found first."""
    try:
        with transaction.atomic():
            cursor.execute(sql)
            hit, found = cursor.rowcount, next(iter(look()), None)
            raise _UndoError
    except _UndoError:
        return hit, found


def faults_from(model):
    """Every fault, beginning with the records that a table belongs to: only the first is asked for, over and over."""
    near = [
        kind
        for kind in record_kinds()
        if model in (kind.model, *(kind.model._meta.get_field(name).related_model for name in kind.related))
    ]
    for kind in near:
        yield from record_faults(kind)
        yield from orphan_faults(kind)
    yield from faults()


def not_found(models_, statements, look=faults_from):
    missed, tried = [], 0
    with as_administrator(*models_) as cursor:
        for model in models_:
            for words, sql in statements(model):
                hit, found = try_out(cursor, sql, lambda model=model: look(model))
                tried += hit
                if hit and found is None:
                    missed.append(words)
    return missed, tried


def test_every_table_of_the_lab_belongs_to_a_checked_record():
    checked = set()
    for kind in record_kinds():
        checked |= {kind.model, *(kind.model._meta.get_field(name).related_model for name in kind.related)}
    assert [model._meta.label_lower for model in lab_tables() if model not in checked] == []


def test_every_column_is_compared_but_the_listed_ones():
    found = {kind.model._meta.label_lower: kind.exclude for kind in record_kinds() if kind.model in tables()}
    assert {label: set(exclude) for label, exclude in found.items() if exclude} == NOT_COMPARED


def test_services_make_a_row_of_every_table(every_record):
    empty = [model._meta.label_lower for model in tables() if not model._base_manager.exists()]
    assert empty == [], "make a row of it in `every_record`, so that its columns are tried below"
    assert list(faults()) == []


def test_every_changed_column_is_found(every_record):
    missed, tried = not_found(tables(), mutations)
    assert missed == []
    assert tried >= sum(len(model._meta.concrete_fields) for model in lab_tables())


def test_every_changed_column_of_the_trail_is_found(every_record):
    missed, tried = not_found([AuditEntry], mutations, lambda _: chain_faults())
    assert missed == []
    assert tried >= len(AuditEntry._meta.concrete_fields)


def added_and_removed(model):
    """A row more, copied from the newest; the same leading to no record; the newest and the oldest row less."""
    table, pk = model._meta.db_table, model._meta.pk.column
    stored = [column for column in model._meta.concrete_fields if not column.generated]
    columns = ", ".join(f'"{column.column}"' for column in stored)

    def copied(changed):
        values = ", ".join(
            f'"{column.column}" + {FAR}' if column in changed else f'"{column.column}"' for column in stored
        )
        return f'INSERT INTO "{table}" ({columns}) SELECT {values} FROM "{table}" ORDER BY "{pk}" DESC LIMIT 1'

    numbered = isinstance(model._meta.pk, models.IntegerField)
    links = [column for column in stored if column.remote_field]
    if numbered:
        yield f"{model._meta.label_lower} added", copied([model._meta.pk])
        yield f"{model._meta.label_lower} added, leading nowhere", copied([model._meta.pk, *links])
    for end in ("min", "max"):
        sql = f'DELETE FROM "{table}" WHERE "{pk}" = (SELECT {end}("{pk}") FROM "{table}")'
        yield f"{model._meta.label_lower} {end} removed", sql


def test_every_added_and_removed_row_is_found(every_record):
    missed, tried = not_found(tables(), added_and_removed)
    assert missed == []
    assert tried >= 4 * len(lab_tables())


def test_added_and_removed_entries_of_the_trail_are_found(every_record):
    # The newest entries' removal leaves a whole chain: it is found against a kept head, see test_audit_chain.
    missed, _ = not_found([AuditEntry], added_and_removed, lambda _: chain_faults())
    assert missed == ["core.auditentry max removed"]
