"""The bytes of a declared take arrive, in pieces, over lines that break.

Each piece is a file of its own in the takes storage, written first and then counted in one short
transaction that locks the take's row. So two tabs cannot mix their bytes, a slow phone holds no lock while
it sends, and the next piece may come to another machine. The pieces are trusted only when the SHA-256 of
all of them in order is the declared one; until then the phone keeps its copy.
"""

import contextlib
import hashlib
import io
import logging
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from uuid import UUID

from django.core.files import File
from django.core.files.base import ContentFile
from django.db import connection, transaction
from django.db.models import F, Q, QuerySet
from django.utils.translation import gettext as _

from submissions.models import Piece, Take
from submissions.preparing.signatures import HEAD_BYTES, kind_of
from submissions.takes import files
from submissions.takes.refusals import StorageAway, TakeRefused, WrongOffset
from submissions.takes.services import leases
from submissions.takes.services.patience import Patience
from submissions.turn_ins import services as turn_ins

logger = logging.getLogger(__name__)

type Queue = Callable[[Take], None]

PIECE_BYTES = 1024 * 1024
# Whoever puts a take together says so every second; one that is silent for so long has died.
CHECKING_FOR = timedelta(seconds=4)
SAID_EVERY_SECONDS = 1.0
# The request that brought the last piece puts the take together; the worker, what is left after so long.
LEFT_ALONE_AFTER = timedelta(seconds=4)
MOST_AT_ONCE = 200


def receipt(take: Take) -> str | None:
    """The SHA-256 the server computed over the whole file, None as long as it has not."""
    return take.declared_sha256 if take.received_at is not None else None


def offset_of(take: Take) -> int:
    """How many bytes are here."""
    return take.received_bytes if take.state == Take.State.DECLARED else take.declared_bytes


def check_place(take: Take, *, offset: int, length: int) -> None:
    """Raises WrongOffset where bytes would leave a hole, lie over counted ones or pass the declared end."""
    if take.state != Take.State.DECLARED or take.received_bytes != offset:
        raise WrongOffset(
            _("These bytes are here already; go on where the school's computer stands."),
            offset=offset_of(take),
        )
    if offset + length > take.declared_bytes:
        raise WrongOffset(_("This is more than was announced; send the file again."), offset=offset)


def append(*, take_pk: UUID, offset: int, piece: bytes, at: datetime) -> int:
    """Store one piece that begins where the bytes so far end; returns the new end.

    Raises WrongOffset as `check_place` does, NoRoom on a full disk and StorageAway; then nothing of the
    piece counts.
    """
    name = files.piece_name(take_pk, start=offset)
    try:
        files.save(name, ContentFile(piece))
        with transaction.atomic():
            take = _locked(take_pk)
            check_place(take, offset=offset, length=len(piece))
            Piece.objects.create(take=take, start=offset, bytes=len(piece), name=name, arrived_at=at)
            take.received_bytes = offset + len(piece)
            take.save(update_fields=["received_bytes"])
    except BaseException:
        with contextlib.suppress(StorageAway):
            files.delete([name])
        raise
    return take.received_bytes


def finish(*, take_pk: UUID, at: datetime, queue: Queue) -> bool:
    """Put the pieces together and check them; True once the whole take is safely here.

    Safe to call at any time and by several at once: one does the work. `queue` is called in the
    transaction that makes the take RECEIVED. Raises WrongOffset, and goes back to the last byte that is
    safe, where the bytes are not those that were declared.
    """
    hold = _Hold(take_pk=take_pk, since=at)
    if not hold.taken():
        return Take.objects.get(pk=take_pk).received_at is not None
    try:
        _check_and_store(take=Take.objects.get(pk=take_pk), hold=hold, at=at, queue=queue)
    finally:
        hold.let_go()
    return True


def finish_left_alone(*, at: datetime, queue: Queue) -> int:
    """Put together what a machine that died left alone, and clear up; returns how many got their receipt.

    Nobody is there to be told why one cannot be: its phone asks again. One that cannot be stops no other, in
    whatever order they come; a storage that is away is not asked for all of them.
    """
    finished = 0
    patience = Patience()
    for take in _left_alone(at=at).order_by("?")[:MOST_AT_ONCE]:
        try:
            finished += finish(take_pk=take.pk, at=at, queue=queue)
        except WrongOffset as refused:
            logger.info("Take %s is not complete: %s", take.pk, refused)
        except TakeRefused as refused:
            logger.warning("Take %s waits to be put together: %s", take.pk, refused.__cause__ or refused)
            patience.lose()
            if patience.is_spent:
                return finished
    for take in _with_pieces().exclude(state=Take.State.DECLARED).order_by("?")[:MOST_AT_ONCE]:
        try:
            files.clear_arrival(take.pk, but=take.original)
            take.pieces.all().delete()
        except TakeRefused as refused:
            logger.warning("Pieces of take %s wait to be deleted: %s", take.pk, refused.__cause__ or refused)
            patience.lose()
            if patience.is_spent:
                break
    return finished


def forget_abandoned(*, before: datetime) -> int:
    """Delete pieces of takes that stopped coming; the take can still be sent, from the start."""
    freed = 0
    patience = Patience()
    coming = Piece.objects.filter(arrived_at__gte=before).values("take")
    for take in _with_pieces().filter(state=Take.State.DECLARED).exclude(pk__in=coming).order_by("?"):
        try:
            # Files first: if that fails, the rows still know them.
            files.clear_arrival(take.pk)
        except TakeRefused as refused:
            logger.warning("Pieces of take %s wait to be deleted: %s", take.pk, refused.__cause__ or refused)
            patience.lose()
            if patience.is_spent:
                break
            continue
        _go_back(take.pk, to=0)
        freed += 1
    return freed


def _with_pieces() -> QuerySet[Take]:
    return Take.objects.filter(pk__in=Piece.objects.values("take"))


def _left_alone(*, at: datetime) -> QuerySet[Take]:
    """Takes with every byte here that nobody is putting together."""
    just_now = Piece.objects.filter(arrived_at__gt=at - LEFT_ALONE_AFTER).values("take")
    complete = Take.objects.filter(state=Take.State.DECLARED, received_bytes=F("declared_bytes"))
    return complete.exclude(lease_until__gte=at).exclude(pk__in=just_now)


def _check_and_store(*, take: Take, hold: "_Hold", at: datetime, queue: Queue) -> None:
    whole = _Whole(pieces=list(take.pieces.all()), hold=hold)
    name = files.whole_name(take.pk)
    try:
        files.save(name, File(io.BufferedReader(whole, files.READ_AT_ONCE)))
        if whole.digest.hexdigest() != take.declared_sha256:
            raise _unlike(start=0)
        files.to_disk(name)
        moved = _receive(take=take, name=name, head=whole.head, at=at, queue=queue)
    except WrongOffset as unlike:
        _forget(name)
        _go_back(take.pk, to=unlike.offset)
        raise
    except BaseException:
        _forget(name)
        raise
    if not moved:  # somebody else was faster
        _forget(name)


def _receive(*, take: Take, name: str, head: bytes, at: datetime, queue: Queue) -> bool:
    """The receipt; False where another machine gave it already.

    What begins like no recording displaces none until it is prepared: it may play all the same.
    """
    with durably(), transaction.atomic():
        moved = Take.objects.filter(pk=take.pk, state=Take.State.DECLARED).update(
            state=Take.State.RECEIVED, received_at=at, original=name, lease_until=at + leases.LOOK_AGAIN
        )
        if moved:
            take.refresh_from_db()
            if kind_of(head) is None:
                turn_ins.fall_back(unlike=take)
            queue(take)
    return bool(moved)


@contextmanager
def durably() -> Iterator[None]:
    """A commit inside is on the disk when it returns, also if the power fails in the next moment.

    After a receipt the phone lets go of its copy. PostgreSQL commits so by itself; SQLite, as it is set
    here, may lose its last moments, which elsewhere costs nothing.
    """
    if connection.vendor != "sqlite" or connection.in_atomic_block:
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA synchronous=FULL")
        try:
            yield
        finally:
            cursor.execute("PRAGMA synchronous=NORMAL")


@dataclass(slots=True)
class _Hold:
    """The right to put one take together, for as long as its holder says that it lives."""

    take_pk: UUID
    since: datetime
    began: float = field(default_factory=time.monotonic)
    said: float = 0.0
    until: datetime | None = None

    def taken(self) -> bool:
        until = self.since + CHECKING_FOR
        free = Q(lease_until=None) | Q(lease_until__lt=self.since)
        complete = self._rows().filter(received_bytes=F("declared_bytes"))
        if not complete.filter(free).update(lease_until=until):
            return False
        self.until = until
        return True

    def keep(self) -> None:
        """Say so again, if the last time is a while ago. Who took over meanwhile may go on: one wins."""
        passed = time.monotonic() - self.began
        if passed - self.said < SAID_EVERY_SECONDS:
            return
        until = self.since + timedelta(seconds=passed) + CHECKING_FOR
        if self._rows().filter(lease_until=self.until).update(lease_until=until):
            self.until = until
        self.said = passed

    def let_go(self) -> None:
        self._rows().filter(lease_until=self.until).update(lease_until=None)

    def _rows(self) -> QuerySet[Take]:
        return Take.objects.filter(pk=self.take_pk, state=Take.State.DECLARED)


class _Whole(io.RawIOBase):
    """The pieces in order, read once, hashed on the way."""

    def __init__(self, *, pieces: list[Piece], hold: _Hold) -> None:
        super().__init__()
        self.digest = hashlib.sha256()
        self.head = b""
        self.hold = hold
        self.parts = self._parts(pieces)
        self.rest = memoryview(b"")

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: "memoryview") -> int:  # type: ignore[override]  # what BufferedReader hands over
        if not self.rest:
            self.rest = memoryview(next(self.parts, b""))
            self.digest.update(self.rest)
            self.head += self.rest[: HEAD_BYTES - len(self.head)]
            self.hold.keep()
        count = min(len(buffer), len(self.rest))
        buffer[:count], self.rest = self.rest[:count], self.rest[count:]
        return count

    def _parts(self, pieces: list[Piece]) -> Iterator[bytes]:
        for piece in pieces:
            here = 0
            try:
                for part in files.read(piece.name):
                    here += len(part)
                    yield part
            except FileNotFoundError as lost:
                raise _unlike(start=piece.start) from lost
            if here != piece.bytes:
                raise _unlike(start=piece.start)


def _unlike(*, start: int) -> WrongOffset:
    """What is stored is not what was counted or declared, from `start` on."""
    return WrongOffset(
        _("The file changed on its way; it is being sent again from where it was whole."), offset=start
    )


def _go_back(take_pk: UUID, *, to: int) -> None:
    with transaction.atomic():
        take = _locked(take_pk)
        if take.state != Take.State.DECLARED:
            return
        gone = take.pieces.filter(start__gte=to)
        names = list(gone.values_list("name", flat=True))
        gone.delete()
        take.received_bytes = to
        take.save(update_fields=["received_bytes"])
    _forget(*names)


def _forget(*names: str) -> None:
    """Delete files that no row counts; one that stays is found when the take's folder is cleared."""
    with contextlib.suppress(StorageAway):
        files.delete(names)


def _locked(take_pk: UUID) -> Take:
    return Take.objects.select_for_update(of=("self",)).get(pk=take_pk)
