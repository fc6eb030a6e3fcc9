"""What a disk, a bucket or a database answers when it cannot, in one sentence for a technician."""

import sqlite3

from botocore.exceptions import BotoCoreError, ClientError
from django.db import DatabaseError

TROUBLE = (OSError, sqlite3.Error, DatabaseError, BotoCoreError, ClientError)


def in_words(error: Exception) -> str:
    if isinstance(error, OSError) and error.strerror:
        place = f" ({error.filename})" if error.filename else ""
        return f"The disk says: {error.strerror}{place}."
    if isinstance(error, (BotoCoreError, ClientError)):
        return f"The bucket says: {error}"
    if isinstance(error, (sqlite3.Error, DatabaseError)):
        return f"The database says: {error}"
    return str(error)
