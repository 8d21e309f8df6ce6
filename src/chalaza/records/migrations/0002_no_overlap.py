"""No two stays of a batch and no two mounts of a probe overlap: held by the database, each in its own way."""

from typing import Any

from django.db import migrations

TABLES = {"records_stay": "batch_id", "records_mount": "probe_id"}
_END = 4_102_444_801

_SQLITE = """
CREATE TRIGGER {table}_no_overlap_{when} BEFORE {verb} ON {table}
WHEN EXISTS (SELECT 1 FROM {table} o WHERE o.{owner} = NEW.{owner} AND o.id IS NOT NEW.id
    AND o.start < COALESCE(NEW."end", {end}) AND COALESCE(o."end", {end}) > NEW.start)
BEGIN SELECT RAISE(ABORT, 'overlap in {table}'); END
"""
_POSTGRESQL = """
CREATE FUNCTION {table}_no_overlap() RETURNS trigger AS $$
BEGIN
    PERFORM pg_advisory_xact_lock(hashtext('{table}' || NEW.{owner}));
    IF EXISTS (SELECT 1 FROM {table} o WHERE o.{owner} = NEW.{owner} AND o.id <> NEW.id
        AND o.start < COALESCE(NEW."end", {end}) AND COALESCE(o."end", {end}) > NEW.start)
    THEN RAISE EXCEPTION 'overlap in {table}' USING ERRCODE = 'exclusion_violation'; END IF;
    RETURN NEW;
END $$ LANGUAGE plpgsql;
CREATE TRIGGER {table}_no_overlap BEFORE INSERT OR UPDATE ON {table}
    FOR EACH ROW EXECUTE FUNCTION {table}_no_overlap();
"""


def hold(apps: Any, editor: Any) -> None:
    """Put the triggers in place."""
    for table, owner in TABLES.items():
        if editor.connection.vendor == "sqlite":
            for when, verb in (("insert", "INSERT"), ("update", 'UPDATE OF start, "end", ' + owner)):
                editor.execute(_SQLITE.format(table=table, owner=owner, when=when, verb=verb, end=_END))
        else:
            editor.execute(_POSTGRESQL.format(table=table, owner=owner, end=_END))


def let_go(apps: Any, editor: Any) -> None:
    """Take them away."""
    for table in TABLES:
        if editor.connection.vendor == "sqlite":
            for when in ("insert", "update"):
                editor.execute(f"DROP TRIGGER {table}_no_overlap_{when}")
        else:
            editor.execute(f"DROP TRIGGER {table}_no_overlap ON {table}; DROP FUNCTION {table}_no_overlap()")


class Migration(migrations.Migration):
    dependencies = [("records", "0001_the_notebook")]
    operations = [migrations.RunPython(hold, let_go)]
