"""What a database is made of, in words by which two can be compared: columns, constraints, indexes, storage."""

from __future__ import annotations

import re

# A dump writes casts and brackets at other places than the statement that made the constraint.
FREE_TEXT = re.compile(r"::[a-z ]+(\[\])?|[()\s]")

PARTS = {
    "columns": """
        SELECT format('%s.%s %s%s default %s storage %s', relname, attname, format_type(atttypid, atttypmod),
                      CASE WHEN attnotnull THEN ' not null' ELSE '' END,
                      coalesce(pg_get_expr(adbin, adrelid), attidentity::text), attstorage)
        FROM pg_attribute JOIN pg_class c ON c.oid = attrelid
        LEFT JOIN pg_attrdef ON adrelid = attrelid AND adnum = attnum
        WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'v') AND attnum > 0 AND NOT attisdropped""",
    "tables": """
        SELECT format('%s %s %s security %s %s', relname, relpersistence, reloptions, relrowsecurity,
                      relforcerowsecurity)
        FROM pg_class
        WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'v')""",
    # The names of foreign keys and of some indexes depend on how they came about. The code refers to those of checks.
    "constraints": """
        SELECT format('%s %s %s', conrelid::regclass, CASE WHEN contype IN ('c', 'x') THEN conname::text ELSE '' END,
                      pg_get_constraintdef(oid))
        FROM pg_constraint WHERE connamespace = 'public'::regnamespace AND contype <> 'n'""",
    "indexes": """
        SELECT regexp_replace(indexdef, 'INDEX \\S+ ON', 'INDEX ON') FROM pg_indexes WHERE schemaname = 'public'""",
}


def schema_of(cursor) -> dict[str, list[str]]:
    """Describe the tables of a database, each part in order and without the order of columns."""
    described = {}
    for part, query in PARTS.items():
        cursor.execute(query)
        described[part] = sorted(FREE_TEXT.sub("", text) for (text,) in cursor.fetchall())
    return described
