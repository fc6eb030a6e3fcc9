"""What a student's visit changes."""

from datetime import datetime

from submissions.models import Return


def see_return(*, returned: Return, at: datetime) -> None:
    """Note the first time a student opens what came back; later visits change nothing."""
    Return.objects.filter(pk=returned.pk, seen_at__isnull=True).update(seen_at=at)
