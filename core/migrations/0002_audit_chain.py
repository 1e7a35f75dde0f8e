"""The trail's chain and its refusal of every change, in the database itself."""

from __future__ import annotations

from typing import ClassVar

from django.db import migrations

CHAIN = """
CREATE FUNCTION core_audit_chain() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    newest record;
BEGIN
    -- One writer at a time, to the end of its transaction: the number is given after the lock, so that the order
    -- of numbers is the order of the chain.
    PERFORM pg_advisory_xact_lock(7301455001);
    SELECT id, hash INTO newest FROM core_auditentry ORDER BY id DESC LIMIT 1;
    NEW.id := coalesce(newest.id, 0) + 1;
    NEW.previous_hash := coalesce(newest.hash, decode(repeat('00', 32), 'hex'));
    NEW.hash := sha256(NEW.previous_hash || convert_to(NEW.payload, 'UTF8'));
    RETURN NEW;
END $$;

CREATE TRIGGER core_audit_chain BEFORE INSERT ON core_auditentry
    FOR EACH ROW EXECUTE FUNCTION core_audit_chain();
"""

APPEND_ONLY = """
CREATE FUNCTION core_audit_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'The audit trail is append-only: % refused.', TG_OP USING ERRCODE = 'insufficient_privilege';
END $$;

CREATE TRIGGER core_audit_refuse_change BEFORE UPDATE OR DELETE ON core_auditentry
    FOR EACH ROW EXECUTE FUNCTION core_audit_refuse();
CREATE TRIGGER core_audit_refuse_truncate BEFORE TRUNCATE ON core_auditentry
    FOR EACH STATEMENT EXECUTE FUNCTION core_audit_refuse();
"""

UNDO = """
DROP TRIGGER core_audit_chain ON core_auditentry;
DROP TRIGGER core_audit_refuse_change ON core_auditentry;
DROP TRIGGER core_audit_refuse_truncate ON core_auditentry;
DROP FUNCTION core_audit_chain();
DROP FUNCTION core_audit_refuse();
"""


class Migration(migrations.Migration):
    dependencies: ClassVar = [("core", "0001_initial")]

    operations: ClassVar = [migrations.RunSQL([CHAIN, APPEND_ONLY], UNDO)]
