"""What a school's pages answer once the disk they lie on is full: run in a process of its own, told as JSON.

`python -m tests.bandroom.full_disk_probe`, with BANDROOM_VAR on a small disk. All is real: the disk, the
database on it, the cache of drawings, signing in.
"""

import json
import logging
from collections.abc import Callable
from typing import Any

import django
from django.conf import settings


def main() -> None:
    django.setup()
    settings.DEBUG = False
    settings.ALLOWED_HOSTS = ["testserver"]
    logging.disable(logging.CRITICAL)
    print(json.dumps(answers()))


def answers() -> dict[str, Any]:
    from django.core.management import call_command  # noqa: PLC0415 as above
    from django.db import connections  # noqa: PLC0415 as above
    from django.test import Client  # noqa: PLC0415 as above

    from bandroom import room  # noqa: PLC0415 as above
    from tests import factories  # noqa: PLC0415 as above
    from tests.disks import fill  # noqa: PLC0415 as above

    call_command("migrate", verbosity=0)
    band = factories.make_band()
    section = factories.make_section(band=band)
    factories.make_seat(section=section)
    exercise = factories.make_exercise(band=band)
    director = factories.make_staff(band=band).user
    director.set_password("correct horse battery")
    director.save()

    def sign_in(password: str) -> Callable[[Client], Any]:
        typed = {"username": director.sign_in_name, "password": password}
        return lambda client: client.post("/sign-in/staff/", typed)

    def part(client: Client) -> Any:
        return client.get(f"/exercises/{exercise.pk}/")

    was_in, comes = Client(raise_request_exception=False), Client(raise_request_exception=False)
    sign_in("correct horse battery")(was_in)
    told: dict[str, Any] = {"reserve before": (settings.VAR_DIR / room.NAME).exists()}
    # Nobody has the database open: the next reader has to make its files beside it.
    connections.close_all()
    fill(settings.VAR_DIR)
    told["a page that reads"] = part(was_in).status_code
    told["drawings kept"] = len(list((settings.VAR_DIR / "engravings").rglob("*.djcache")))
    told["the week"] = was_in.get("/week/").status_code
    told["the door"] = comes.get("/sign-in/staff/").status_code
    told["a wrong password"] = sign_in("not my password")(comes).status_code
    told["signing in"] = sign_in("correct horse battery")(comes).status_code
    told["the week after it"] = comes.get("/week/").status_code
    told["is short"] = room.is_short()
    told["reserve after"] = (settings.VAR_DIR / room.NAME).exists()
    connections.close_all()
    fill(settings.VAR_DIR)  # and somebody's log takes the reserve as well
    answer = comes.get("/week/")
    told["without reserve"] = answer.status_code
    told["says"] = "has no room left" in answer.content.decode()
    return told


if __name__ == "__main__":
    main()
