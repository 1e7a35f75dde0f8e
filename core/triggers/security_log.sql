-- Keeps the security log as it was written: whoever gets in by a stolen account must not remove the traces of it. Rows
-- are only deleted by age, at the end of the retention period, which is 30 days at least.

CREATE OR REPLACE FUNCTION core_security_log_is_kept() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
    -- Failures of names that are no account's are counted in one row an hour: the count alone may grow.
    IF TG_OP = 'UPDATE' AND OLD.user_id IS NULL AND NEW.times > OLD.times
            AND to_jsonb(NEW) - 'times' = to_jsonb(OLD) - 'times' THEN
        RETURN NEW;
    ELSIF TG_OP = 'UPDATE' THEN
        RAISE EXCEPTION 'Events of the security log cannot be changed.'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'security_event_unchanged';
    ELSIF OLD.at > now() - interval '30 days' THEN
        RAISE EXCEPTION 'Events of the security log cannot be deleted before they are 30 days old.'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'security_event_age';
    END IF;
    RETURN OLD;
END $$;

CREATE OR REPLACE TRIGGER core_security_log_is_kept BEFORE UPDATE OR DELETE ON core_securityevent
    FOR EACH ROW EXECUTE FUNCTION core_security_log_is_kept();
