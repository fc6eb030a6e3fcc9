"""The director's own bank of phrases, in the order they stand beside the note."""

from django.db import transaction
from django.db.models import Max

from bandroom.people.models import Band
from submissions.models import Phrase


@transaction.atomic
def add_phrase(*, band: Band, kind: Phrase.Kind, label: str, text: str) -> Phrase:
    last = Phrase.objects.filter(band=band, kind=kind).aggregate(last=Max("order"))["last"]
    order = 0 if last is None else last + 1
    return Phrase.objects.create(band=band, kind=kind, label=label, text=text, order=order)


@transaction.atomic
def change_phrase(*, phrase: Phrase, label: str, text: str) -> Phrase:
    phrase.label, phrase.text = label, text
    phrase.save(update_fields=["label", "text"])
    return phrase


@transaction.atomic
def move_phrase(*, phrase: Phrase, step: int) -> None:
    """One place up (-1) or down (1) among the phrases of its kind; at either end nothing happens."""
    row = list(
        Phrase.objects.select_for_update()
        .filter(band_id=phrase.band_id, kind=phrase.kind)
        .order_by("order", "pk")
    )
    place = next(index for index, other in enumerate(row) if other.pk == phrase.pk)
    to = min(max(place + step, 0), len(row) - 1)
    row.insert(to, row.pop(place))
    for order, other in enumerate(row):
        other.order = order
    Phrase.objects.bulk_update(row, ["order"])


def delete_phrase(*, phrase: Phrase) -> None:
    """Notes already written with it keep their words."""
    phrase.delete()
