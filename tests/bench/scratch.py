"""A database of its own for a measurement, in a scratch folder."""

import contextlib
import io
import logging
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager

import django


@contextmanager
def scratch_database() -> Iterator[None]:
    """Set Django up on the test settings, with an empty, migrated database that is gone afterwards."""
    os.environ["DJANGO_SETTINGS_MODULE"] = "bandroom.settings.test"
    django.setup()
    logging.disable(logging.WARNING)  # a measurement prints its table, and what went wrong
    from django.conf import settings  # noqa: PLC0415 as below
    from django.db import connection  # noqa: PLC0415 only after django.setup()
    from django.test.utils import setup_test_environment, teardown_test_environment  # noqa: PLC0415 as above

    settings.VAR_DIR.mkdir(mode=0o700)
    setup_test_environment()
    with contextlib.redirect_stdout(io.StringIO()):  # it tells of a table for a cache whatever is asked
        name = connection.creation.create_test_db(verbosity=0, serialize=False)
    try:
        yield
    finally:
        connection.creation.destroy_test_db(name, verbosity=0)
        teardown_test_environment()
        connection.close()
        shutil.rmtree(settings.VAR_DIR)
