"""Sends synthesised takes in by the same services that a phone uses."""

import hashlib
import random
import uuid
from collections.abc import Mapping
from datetime import datetime, timedelta
from functools import cache

from django.utils.timezone import now

from bandroom.demo.sounds import Slips, encode, sound, tones
from bandroom.people.instruments import Instrument
from bandroom.people.models import Membership, Seat
from exercises.models import Exercise
from exercises.parts import part_of
from submissions.models import Posting, Take, TurnIn
from submissions.takes.declarations import Declaration
from submissions.takes.services import arrival, declarations
from submissions.takes.tasks import queue_preparing
from submissions.turn_ins import services as turn_ins
from submissions.turn_ins.own_work import OwnPosting

TIMBRES = {
    Instrument.FLUTE: "flute",
    Instrument.CLARINET: "clarinet",
    Instrument.BASS_CLARINET: "clarinet",
    Instrument.BELLS: "percussion",
    Instrument.XYLOPHONE: "percussion",
}
BRASS = {
    Instrument.TRUMPET,
    Instrument.HORN,
    Instrument.TROMBONE,
    Instrument.BARITONE_BC,
    Instrument.BARITONE_TC,
    Instrument.TUBA,
}
# How a student of the demo plays, from every note as written to a line broken off.
WELL = Slips()
STYLES: tuple[Slips, ...] = (
    WELL,
    Slips(other_pitch={3: 1}),
    Slips(late={6: 0.4}),
    Slips(other_pitch={3: 1, 8: 1}),
    Slips(left_out=frozenset({5})),
    Slips(stops_before=11),
)
PIECE_BYTES = 1 << 20


@cache
def played(*, exercise_pk: int, instrument: str, labels: str, style: int) -> bytes:
    """One recording for all students who play it the same way; the demo shares it."""
    exercise = Exercise.objects.get(pk=exercise_pk)
    lines = [line for line in exercise.lines.all() if line.label in labels]
    timbre = TIMBRES.get(Instrument(instrument), "brass" if instrument in BRASS else "woodwind")
    played_lines = [
        tones(part=part_of(line=line, instrument=instrument), tempo=line.tempo_bpm, slips=STYLES[style])
        for line in lines
    ]
    cents = random.Random(f"{instrument}{style}").uniform(-18, 18)  # noqa: S311 a tuning, no secret
    return encode(sound(takes=played_lines, timbre=timbre, cents=cents))


def send_take(*, seat: Seat, posting: Posting, labels: str, style: int, at: datetime) -> Take:
    """Declare, send and finish one take; a worker prepares it."""
    data = played(
        exercise_pk=posting.assignment.exercise_id, instrument=seat.instrument, labels=labels, style=style
    )
    declaration = Declaration(
        id=uuid.uuid4(),
        lines=tuple(labels),
        bytes=len(data),
        sha256=hashlib.sha256(data).hexdigest(),
        origin=Take.Origin.RECORDER,
        recorded_at=at - timedelta(minutes=2),
        lead_seconds=None,
        tempos={},
    )
    membership = Membership.objects.get(band_id=posting.assignment.band_id, user_id=seat.student_id)
    own = OwnPosting(posting=posting, seat=seat, turn_in=None)
    take, _ = declarations.declare(own=own, membership=membership, declaration=declaration, at=at)
    # Announced on its day, as the story has it; its bytes arrive now, or the week page would warn of takes
    # that have waited for days.
    here = now()
    for offset in range(0, len(data), PIECE_BYTES):
        arrival.append(take_pk=take.pk, offset=offset, piece=data[offset : offset + PIECE_BYTES], at=here)
    arrival.finish(take_pk=take.pk, at=here, queue=queue_preparing)
    return take


def turn_in(*, seat: Seat, posting: Posting, styles: Mapping[str, int], at: datetime) -> TurnIn:
    """A take for each key of `styles` ("A", "B" or "AB"), turned in at once."""
    takes: dict[str, Take] = {}
    for labels, style in styles.items():
        take = send_take(seat=seat, posting=posting, labels=labels, style=style, at=at)
        takes |= dict.fromkeys(labels, take)
    return turn_ins.turn_in(seat=seat, posting=posting, takes=takes, at=at)
