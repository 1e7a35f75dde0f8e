-- Guards the audit trail: gives each entry its number and its hashes, and refuses entries of another time and
-- every later change, whoever asks.
-- A trigger and not the application, so that two who write at once get one order and no service can choose a number.

CREATE OR REPLACE FUNCTION core_audit_chain() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
DECLARE
    newest record;
BEGIN
    -- One writer at a time, to the end of its transaction: the number is given after the lock, so that the order
    -- of numbers is the order of the chain.
    PERFORM pg_advisory_xact_lock(7301455001);
    -- Five minutes for what is written between asking for the time and here (core/audit/entry_checks.py has the same).
    IF abs(extract(epoch FROM clock_timestamp() - NEW.at)) > 300 THEN
        RAISE EXCEPTION 'The time of an audit entry is that of the database''s clock, not %.', NEW.at
            USING ERRCODE = 'insufficient_privilege';
    END IF;
    SELECT id, hash INTO newest FROM core_auditentry ORDER BY id DESC LIMIT 1;
    NEW.id := coalesce(newest.id, 0) + 1;
    NEW.previous_hash := coalesce(newest.hash, decode(repeat('00', 32), 'hex'));
    NEW.hash := sha256(NEW.previous_hash || convert_to(NEW.payload, 'UTF8'));
    RETURN NEW;
END $$;

CREATE OR REPLACE TRIGGER core_audit_chain BEFORE INSERT ON core_auditentry
    FOR EACH ROW EXECUTE FUNCTION core_audit_chain();

CREATE OR REPLACE FUNCTION core_audit_refuse() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
    RAISE EXCEPTION 'The audit trail is append-only: % refused.', TG_OP USING ERRCODE = 'insufficient_privilege';
END $$;

CREATE OR REPLACE TRIGGER core_audit_refuse_change BEFORE UPDATE OR DELETE ON core_auditentry
    FOR EACH ROW EXECUTE FUNCTION core_audit_refuse();
CREATE OR REPLACE TRIGGER core_audit_refuse_truncate BEFORE TRUNCATE ON core_auditentry
    FOR EACH STATEMENT EXECUTE FUNCTION core_audit_refuse();
