-- Writes the words of each shoe (brand, name, version, alternative names) into a table of their own, to be searched by
-- index. Its own table, so that the audit trail's copy of a shoe stays what people wrote.

-- The marks between words become blanks, as in catalogue/searching.py: else "Wi-Fi" and "3/4" would be words of a kind.
CREATE OR REPLACE FUNCTION catalogue_search_document(brand text, name text, version text) RETURNS tsvector
LANGUAGE sql IMMUTABLE SET search_path = pg_catalog, public, pg_temp AS $$
    SELECT to_tsvector('simple', regexp_replace(brand || ' ' || name || ' ' || version, '[^[:alnum:]]+', ' ', 'g'))
$$;

CREATE OR REPLACE FUNCTION catalogue_search_shoe() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
    INSERT INTO catalogue_shoesearch (shoe_id, document)
    SELECT NEW.id, catalogue_search_document(
        brand.name, NEW.name, NEW.version || ' ' || array_to_string(NEW.alternative_names, ' ')
    )
    FROM catalogue_brand AS brand WHERE brand.id = NEW.brand_id
    ON CONFLICT (shoe_id) DO UPDATE SET document = EXCLUDED.document;
    RETURN NULL;
END $$;

CREATE OR REPLACE TRIGGER catalogue_search_shoe AFTER INSERT OR UPDATE OF brand_id, name, version, alternative_names
    ON catalogue_shoe FOR EACH ROW EXECUTE FUNCTION catalogue_search_shoe();

CREATE OR REPLACE FUNCTION catalogue_search_brand() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
    UPDATE catalogue_shoesearch AS search
    SET document = catalogue_search_document(
        NEW.name, shoe.name, shoe.version || ' ' || array_to_string(shoe.alternative_names, ' ')
    )
    FROM catalogue_shoe AS shoe WHERE shoe.id = search.shoe_id AND shoe.brand_id = NEW.id;
    RETURN NULL;
END $$;

CREATE OR REPLACE TRIGGER catalogue_search_brand AFTER UPDATE OF name ON catalogue_brand
    FOR EACH ROW EXECUTE FUNCTION catalogue_search_brand();
