"""A task that notes that it ran, where every process can see it."""

from django.core.cache import cache
from django.tasks import task


@task(queue_name="default")
def note(word: str) -> None:
    cache.set("noted", [*noted(), word])


def noted() -> list[str]:
    return cache.get("noted", [])
