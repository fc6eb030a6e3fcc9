"""A throw-away PostgreSQL cluster for the length of a `with` block."""

import contextlib
import getpass
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

UNPRIVILEGED = ("postgres", "nobody")


def binaries() -> Path | None:
    """The folder of initdb and pg_ctl, or None on a machine without them."""
    places = [Path(found).resolve().parent] if (found := shutil.which("initdb")) else []
    places += sorted(
        Path("/usr/lib/postgresql").glob("*/bin"), key=lambda p: int(p.parent.name), reverse=True
    )
    places += sorted(Path("/usr").glob("pgsql-*/bin"), reverse=True)
    return next(
        (place for place in places if (place / "initdb").exists() and (place / "pg_ctl").exists()), None
    )


@contextlib.contextmanager
def cluster() -> Iterator[str]:
    """Yield the address of an empty cluster, reached through a socket alone.

    PostgreSQL refuses to run as root, so a root user lends it to an unprivileged one.
    """
    folder = binaries()
    if folder is None:
        raise FileNotFoundError("PostgreSQL's initdb and pg_ctl are not installed.")
    owner = _owner()
    home = Path(tempfile.mkdtemp(prefix="bandroom-pg-"))
    if owner:
        os.chown(home, owner.pw_uid, owner.pw_gid)
    data = home / "data"

    def run(*command: str | Path) -> None:
        subprocess.run(
            [str(word) for word in command],
            check=True,
            user=owner.pw_uid if owner else None,
            group=owner.pw_gid if owner else None,
            extra_groups=[] if owner else None,
            cwd=home,
            env={"PATH": os.environ.get("PATH", ""), "LC_ALL": "C.UTF-8", "HOME": str(home)},
            stdout=subprocess.DEVNULL,
        )

    try:
        run(folder / "initdb", "-D", data, "-U", "bandroom", "-A", "trust", "-E", "UTF8", "--no-sync")
        options = (
            f"-k {home} -c listen_addresses= -c fsync=off -c full_page_writes=off -c max_connections=100"
        )
        run(folder / "pg_ctl", "-D", data, "-w", "-l", home / "log", "-o", options, "start")
        try:
            yield f"postgresql://bandroom@/bandroom?host={home}"
        finally:
            run(folder / "pg_ctl", "-D", data, "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(home, ignore_errors=True)


def _owner() -> pwd.struct_passwd | None:
    if getpass.getuser() != "root" and os.geteuid() != 0:
        return None
    for name in UNPRIVILEGED:
        with contextlib.suppress(KeyError):
            return pwd.getpwnam(name)
    raise LookupError("Make a user named “postgres” or “nobody” for the PostgreSQL tests to run as.")
