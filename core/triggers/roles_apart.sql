-- Keeps head office apart from reviewing tests and from the stores: head office grants roles, so with one of the others
-- it would approve its own tests or read people whom it may only count. A trigger, because roles are rows of one table,
-- and two grants at once must not slip past each other.

CREATE OR REPLACE FUNCTION core_roles_apart() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
DECLARE
    others text[] := CASE WHEN NEW.role = 'office' THEN ARRAY['reviewer', 'fitter', 'manager'] ELSE ARRAY['office'] END;
BEGIN
    IF NEW.role NOT IN ('office', 'reviewer', 'fitter', 'manager') THEN
        RETURN NEW;
    END IF;
    -- One grant to a person at a time.
    PERFORM FROM core_user WHERE id = NEW.user_id FOR UPDATE;
    IF EXISTS (SELECT FROM core_membership
               WHERE user_id = NEW.user_id AND role = ANY(others) AND id IS DISTINCT FROM NEW.id) THEN
        RAISE EXCEPTION 'Head office may not also be a reviewer, fitter or store manager.'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'membership_roles_apart';
    END IF;
    RETURN NEW;
END $$;

CREATE OR REPLACE TRIGGER core_roles_apart BEFORE INSERT OR UPDATE ON core_membership
    FOR EACH ROW EXECUTE FUNCTION core_roles_apart();
