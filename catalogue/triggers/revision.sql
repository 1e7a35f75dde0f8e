-- The two steps that the triggers of the catalogue's tables share: counting the catalogue's revision up, by which pages
-- and caches know their age, and listing the shoes that a statement changed, so that what is held in memory is updated
-- shoe by shoe.
--
-- Each table has one trigger function that takes these steps in order, the revision first. Statements that change the
-- catalogue wait for each other at the revision's row: a number covers everything up to it, and whoever counts
-- afterwards sees what the statement before has written.

-- A row and not a sequence: the new number is seen when the change is, not before, so that no cache stores an old page
-- under a new number. Stock changes all day and measurements rarely: large tables in memory follow `shoes_number` alone.
CREATE OR REPLACE FUNCTION catalogue_revise(of_shoes boolean) RETURNS void
LANGUAGE sql SET search_path = pg_catalog, public, pg_temp AS $$
    INSERT INTO catalogue_cataloguerevision AS revision (id, number, changed_at, shoes_number, shoes_changed_at)
    VALUES (1, 1, clock_timestamp(), 1, clock_timestamp())
    ON CONFLICT (id) DO UPDATE SET
        number = revision.number + 1,
        changed_at = clock_timestamp(),
        shoes_number = revision.shoes_number + of_shoes::integer,
        shoes_changed_at = CASE WHEN of_shoes THEN clock_timestamp() ELSE revision.shoes_changed_at END;
$$;

-- More than 5000 shoes are not listed: they are all read again. The last 1000 statements are remembered.
CREATE OR REPLACE FUNCTION catalogue_note_shoes(touched bigint[]) RETURNS void
LANGUAGE sql SET search_path = pg_catalog, public, pg_temp AS $$
    INSERT INTO catalogue_shoeschange AS known (number, changed_at, shoes)
    SELECT shoes_number, shoes_changed_at, CASE WHEN cardinality(touched) <= 5000 THEN touched END
    FROM catalogue_cataloguerevision
    ON CONFLICT (number) DO UPDATE SET shoes = known.shoes || EXCLUDED.shoes;
    DELETE FROM catalogue_shoeschange
    WHERE number <= (SELECT shoes_number FROM catalogue_cataloguerevision) - 1000;
$$;

-- For tables whose changes are seen on pages, but of which nothing is held in memory: no shoe is listed as changed.
CREATE OR REPLACE FUNCTION catalogue_pages_changed() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
    PERFORM catalogue_revise(false);
    RETURN NULL;
END $$;
