"""The database copied while it is used, and put back.

SQLite by its own online copy, PostgreSQL by pg_dump; either is one moment of the database, and what else is
read while it is copied is of that same moment.
"""

import contextlib
import os
import shutil
import sqlite3
import subprocess
from collections.abc import Iterator
from pathlib import Path

from django.db import connection, transaction
from psycopg.conninfo import make_conninfo
from psycopg.pq import Conninfo

from bandroom.backups.manifest import BackupRefused

#: What a schema of PostgreSQL holds, in the order in which it goes: its catalogue, its name in there, which.
OWN_THINGS = {
    "VIEW": ("pg_class", "oid::regclass", "relnamespace", "relkind = 'v'"),
    "TABLE": ("pg_class", "oid::regclass", "relnamespace", "relkind IN ('r', 'p')"),
    "SEQUENCE": ("pg_class", "oid::regclass", "relnamespace", "relkind = 'S'"),
    "ROUTINE": ("pg_proc", "oid::regprocedure", "pronamespace", "true"),
    "TYPE": ("pg_type", "oid::regtype", "typnamespace", "typtype IN ('e', 'd', 'c')"),
}
FILES = {"sqlite": "database.sqlite3", "postgresql": "database.dump"}


def file_name(vendor: str | None = None) -> str:
    return FILES[vendor or connection.vendor]


@contextlib.contextmanager
def copied(folder: Path) -> Iterator[None]:
    """Copy the database into `folder`; what is read from the database inside is of the copy's own moment."""
    target = folder / file_name()
    target.unlink(missing_ok=True)
    with _copied_sqlite(target) if connection.vendor == "sqlite" else _dumped(target):
        target.chmod(0o600)
        yield


@contextlib.contextmanager
def _copied_sqlite(target: Path) -> Iterator[None]:
    with connection.cursor() as cursor:
        # Reads alone, so that nobody waits for it: writers go on in the log beside the file.
        cursor.execute("BEGIN DEFERRED")
        try:
            cursor.execute("SELECT 1 FROM sqlite_master LIMIT 1")
            with contextlib.closing(sqlite3.connect(target)) as copy:
                connection.connection.backup(copy)
                # One file, without a log of its own.
                copy.execute("PRAGMA journal_mode=DELETE")
            yield
        finally:
            cursor.execute("ROLLBACK")


@contextlib.contextmanager
def _dumped(target: Path) -> Iterator[None]:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        cursor.execute("SELECT pg_export_snapshot()")
        (snapshot,) = cursor.fetchone()
        _postgres("pg_dump", "--format=custom", "--no-owner", f"--snapshot={snapshot}", f"--file={target}")
        yield


def counted_rows() -> dict[str, int]:
    """How many rows each table has."""
    with connection.cursor() as cursor:
        counts = {}
        for table in sorted(connection.introspection.table_names(cursor)):
            cursor.execute(f"SELECT count(*) FROM {connection.ops.quote_name(table)}")  # noqa: S608 - its own name
            (counts[table],) = cursor.fetchone()
    return counts


def faults_of(path: Path, *, vendor: str, rows: dict[str, int]) -> str:
    """What is wrong with a database file of a backup that should have so many rows, empty if nothing is."""
    if vendor == "postgresql":
        done = subprocess.run([_tool("pg_restore"), "--list", path], capture_output=True, check=False)  # noqa: S603 - our own command
        return done.stderr.decode(errors="replace").strip() if done.returncode else ""
    try:
        with contextlib.closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as file:
            (told,) = file.execute("PRAGMA integrity_check(1)").fetchone()
            names = file.execute("SELECT name FROM sqlite_master WHERE type='table'").fetchall()
            found = {
                name: file.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]  # noqa: S608 - its own name
                for (name,) in names
                if name in rows
            }
    except sqlite3.DatabaseError as error:
        return str(error)
    if told != "ok":
        return str(told)
    return "" if found == rows else "not as many rows as were counted"


def put_back(source: Path) -> None:
    """Replace everything in the database by what `source` holds."""
    if connection.vendor == "sqlite":
        connection.ensure_connection()
        with contextlib.closing(sqlite3.connect(f"file:{source}?mode=ro", uri=True)) as copy:
            copy.backup(connection.connection)
        with connection.cursor() as cursor:
            # The copy is one file; a database in use has its log beside it.
            cursor.execute("PRAGMA journal_mode=WAL")
    else:
        _drop_everything()
        options = ("--no-owner", "--no-privileges", "--single-transaction", "--exit-on-error")
        _postgres("pg_restore", *options, str(source))
    connection.close()


def _drop_everything() -> None:
    """Of a newer Bandroom, or of its queue, there may be things that the copy does not know.

    Not the schema: where an administrator made the database it is not ours.
    """
    with transaction.atomic(), connection.cursor() as cursor:
        for kind, (catalogue, name, schema, which) in OWN_THINGS.items():
            cursor.execute(
                f"SELECT {name} FROM {catalogue} WHERE {which} AND {schema} = current_schema()::regnamespace "  # noqa: S608 - ours
                "AND oid NOT IN (SELECT objid FROM pg_depend WHERE deptype = 'e')"  # an extension's stay
            )
            for (found,) in cursor.fetchall():
                cursor.execute(f"DROP {kind} IF EXISTS {found} CASCADE")


def _postgres(tool: str, *options: str) -> None:
    """Run a tool of PostgreSQL on the database of the settings; the password goes by its environment."""
    # Only what the settings say: a tool of an older PostgreSQL does not know every default of our driver.
    known = {option.keyword.decode() for option in Conninfo.get_defaults()} - {"password"}
    given = connection.get_connection_params()
    address = make_conninfo(**{name: value for name, value in given.items() if name in known})
    password = given.get("password")
    done = subprocess.run(  # noqa: S603 - our own command
        [_tool(tool), f"--dbname={address}", *options],
        env=os.environ | ({"PGPASSWORD": str(password)} if password else {}),
        capture_output=True,
        check=False,
    )
    if done.returncode:
        said = done.stderr.decode(errors="replace").strip().splitlines()
        raise BackupRefused(f"{tool} could not do it: {said[-1] if said else done.returncode}")


def _tool(name: str) -> str:
    found = shutil.which(name)
    if found is None:
        raise BackupRefused(
            f"{name} is not installed: install the client tools of your PostgreSQL "
            "(on Debian or Ubuntu: apt-get install postgresql-client)."
        )
    return found
