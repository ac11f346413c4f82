"""Triggers by which the database itself refuses to change or delete what was logged.

They are dropped before and created after every migrate, because a changed table loses its
triggers on SQLite and PostgreSQL refuses to alter a column that a trigger reads.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.apps import apps
from django.db import connections, models
from django.db.backends.base.base import BaseDatabaseWrapper

REFUSAL = "the log is written once: write a correction instead"

POSTGRES_FUNCTION = f"""
CREATE OR REPLACE FUNCTION log_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'UPDATE' AND TG_NARGS = 1
       AND to_jsonb(OLD) - TG_ARGV[0] = to_jsonb(NEW) - TG_ARGV[0]
       AND to_jsonb(OLD) ->> TG_ARGV[0] IS NULL
    THEN
        RETURN NEW;
    END IF;
    RAISE EXCEPTION '{REFUSAL}';
END $$
"""


def log_models() -> list[type[models.Model]]:
    """Every concrete model whose rows are written once."""
    from_log = apps.get_app_config("logbook").get_models()
    return [model for model in from_log if hasattr(model, "once_filled")]


def trigger_names(model: type[models.Model], vendor: str) -> list[str]:
    kinds = {"sqlite": ("update", "delete", "insert"), "postgresql": ("row", "truncate")}
    return [f"{model._meta.db_table}_refuse_{kind}" for kind in kinds[vendor]]


def unchanged_but(model: type[models.Model]) -> str:
    """SQLite: true when nothing but the once-filled column changes, and that from empty."""
    if not model.once_filled:  # type: ignore[attr-defined]
        return "0"
    free = model.once_filled  # type: ignore[attr-defined]
    columns = [field.column for field in model._meta.local_concrete_fields]
    same = [f'OLD."{name}" IS NEW."{name}"' for name in columns if name != free]
    return " AND ".join([*same, f'OLD."{free}" IS NULL'])


def clashes(model: type[models.Model]) -> str:
    """SQLite: true when an insert would replace a row by primary key or a unique key."""
    keys = [[model._meta.pk.column]] + [
        [model._meta.get_field(name).column for name in constraint.fields]
        for constraint in model._meta.constraints
        if isinstance(constraint, models.UniqueConstraint) and not constraint.condition
    ]
    table = model._meta.db_table
    tests = [" AND ".join(f'"{column}" = NEW."{column}"' for column in key) for key in keys]
    partial = [partial_clash(model, constraint) for constraint in model._meta.constraints]
    tests += [test for test in partial if test]
    return " OR ".join(f'EXISTS (SELECT 1 FROM "{table}" WHERE {test})' for test in tests)


def partial_clash(model: type[models.Model], constraint: models.BaseConstraint) -> str:
    if not isinstance(constraint, models.UniqueConstraint) or not constraint.condition:
        return ""
    (name, wanted) = constraint.condition.children[0]
    column = model._meta.get_field(name.split("__")[0]).column
    holds = f'"{column}" IS NULL' if name.endswith("__isnull") else f"\"{column}\" <> '{wanted}'"
    new_holds = holds.replace(f'"{column}"', f'NEW."{column}"')
    fields = [model._meta.get_field(field).column for field in constraint.fields]
    same = " AND ".join(f'"{field}" = NEW."{field}"' for field in fields)
    return f"{same} AND {holds} AND {new_holds}"


def sqlite_statements(model: type[models.Model]) -> Iterator[str]:
    table = model._meta.db_table
    update, delete, insert = trigger_names(model, "sqlite")
    refuse = f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
    yield (
        f'CREATE TRIGGER "{update}" BEFORE UPDATE ON "{table}" '
        f"WHEN NOT ({unchanged_but(model)}) {refuse}"
    )
    yield f'CREATE TRIGGER "{delete}" BEFORE DELETE ON "{table}" {refuse}'
    yield f'CREATE TRIGGER "{insert}" BEFORE INSERT ON "{table}" WHEN {clashes(model)} {refuse}'


def postgres_statements(model: type[models.Model]) -> Iterator[str]:
    table = model._meta.db_table
    row, truncate = trigger_names(model, "postgresql")
    free = model.once_filled  # type: ignore[attr-defined]
    argument = f"'{free}'" if free else ""
    yield (
        f'CREATE TRIGGER "{row}" BEFORE UPDATE OR DELETE ON "{table}" '
        f"FOR EACH ROW EXECUTE FUNCTION log_refuse({argument})"
    )
    yield (
        f'CREATE TRIGGER "{truncate}" BEFORE TRUNCATE ON "{table}" '
        f"FOR EACH STATEMENT EXECUTE FUNCTION log_refuse()"
    )


def install(connection: BaseDatabaseWrapper) -> None:
    remove(connection)
    statements = {"sqlite": sqlite_statements, "postgresql": postgres_statements}
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(POSTGRES_FUNCTION)
        for model in log_models():
            for statement in statements[connection.vendor](model):
                cursor.execute(statement)


def remove(connection: BaseDatabaseWrapper) -> None:
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for model in log_models():
            table = model._meta.db_table
            if table not in tables:
                continue
            for name in trigger_names(model, connection.vendor):
                on = f' ON "{table}"' if connection.vendor == "postgresql" else ""
                cursor.execute(f'DROP TRIGGER IF EXISTS "{name}"{on}')


def missing(connection: BaseDatabaseWrapper) -> list[str]:
    """Names of the triggers that should be there and are not."""
    catalogue = {
        "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger'",
        "postgresql": "SELECT tgname FROM pg_trigger WHERE tgenabled <> 'D'",
    }
    with connection.cursor() as cursor:
        cursor.execute(catalogue[connection.vendor])
        present = {row[0] for row in cursor.fetchall()}
    wanted = [name for model in log_models() for name in trigger_names(model, connection.vendor)]
    return [name for name in wanted if name not in present]


@contextmanager
def lifted(connection: BaseDatabaseWrapper) -> Iterator[None]:
    """No triggers inside; for the test database's reset and for restoring a backup."""
    remove(connection)
    try:
        yield
    finally:
        install(connection)


def lift_before_migrate(*, using: str, **kwargs: Any) -> None:
    remove(connections[using])


def install_after_migrate(*, using: str, **kwargs: Any) -> None:
    install(connections[using])
