"""Make the first version's database, fill it, bring it up to date.

Printed is what each table held before and after, as JSON. It works on the database of the settings, which
must be empty.
"""

import json
import sys
from pathlib import Path

import django

KEPT = Path(__file__).with_name("first_version.json")
APPS = ("people", "exercises", "submissions")


def main() -> None:
    django.setup()
    from django.apps import apps  # noqa: PLC0415 only after django.setup()
    from django.core.management import call_command  # noqa: PLC0415 as above

    for app in APPS:
        call_command("migrate", app, "0001_initial", verbosity=0)
    kept = json.loads(KEPT.read_text(encoding="utf-8"))
    fill(kept)
    before = read(kept)
    call_command("migrate", verbosity=0)
    for model in apps.get_models():
        list(model._default_manager.all())
    json.dump({"before": before, "after": read(kept)}, sys.stdout, default=str)


def fill(kept: dict[str, dict[str, list]]) -> None:
    from django.db import connection, transaction  # noqa: PLC0415 only after django.setup()

    with transaction.atomic(), connection.cursor() as cursor:
        for table, content in kept.items():
            columns = ", ".join(f'"{name}"' for name in content["columns"])
            places = ", ".join(["%s"] * len(content["columns"]))
            # As text, which each database reads as the type of its column.
            rows = [[None if value is None else str(value) for value in row] for row in content["rows"]]
            cursor.executemany(f'INSERT INTO "{table}" ({columns}) VALUES ({places})', rows)
            if connection.vendor == "postgresql" and content["rows"]:
                cursor.execute("SELECT pg_get_serial_sequence(%s, 'id')", [table])
                if (sequence := cursor.fetchone()[0]) is not None:
                    cursor.execute(f"SELECT setval('{sequence}', max(id)) FROM \"{table}\"")


def read(tables: dict[str, object]) -> dict[str, dict[str, dict[str, object]]]:
    """Every row by its primary key, column by column; a table that is gone is left out."""
    from django.db import connection  # noqa: PLC0415 only after django.setup()

    found = {}
    with connection.cursor() as cursor:
        for table in set(tables) & set(connection.introspection.table_names(cursor)):
            cursor.execute(f'SELECT * FROM "{table}"')
            names = [column[0] for column in cursor.description]
            found[table] = {
                str(row[names.index("id")]): dict(zip(names, row, strict=True)) for row in cursor.fetchall()
            }
    return found


if __name__ == "__main__":
    main()
