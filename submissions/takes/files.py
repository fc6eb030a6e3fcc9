"""No recording outlives its row: whatever deletes a take deletes its files."""

from collections.abc import Iterable
from typing import Any

from django.core.files.storage import storages
from django.db import transaction

from submissions.models import Take
from submissions.takes.services.arrival import upload_path


def file_names(take: Take) -> tuple[str, ...]:
    """Names in the takes storage."""
    return tuple(name for name in (take.original, take.served) if name)


def delete_files(take: Take) -> None:
    """Everything that holds the take's sound: the original, the served copy and bytes still arriving."""
    _delete(file_names(take))
    upload_path(take.pk).unlink(missing_ok=True)


def delete_files_with_row(sender: type[Take], instance: Take, **_: Any) -> None:
    """After a row is gone for good (a student, a section or a band was deleted), its files go as well."""
    pk, names = instance.pk, file_names(instance)

    def delete() -> None:
        _delete(names)
        upload_path(pk).unlink(missing_ok=True)

    transaction.on_commit(delete, robust=True)


def _delete(names: Iterable[str]) -> None:
    storage = storages["takes"]
    for name in names:
        storage.delete(name)
