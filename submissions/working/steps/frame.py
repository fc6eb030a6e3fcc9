"""What every page of one assignment carries: the strip of steps, and where the student is stuck."""

from datetime import datetime
from typing import Any

from django.db.models import prefetch_related_objects

from bandroom.people.models import Membership
from exercises.models import PARTS_NEED
from submissions.turn_ins.own_work import OwnPosting
from submissions.working.queries import WorkItem
from submissions.working.steps.strip import done_of, owed, strip
from submissions.working.stuck import bars_to_be_stuck_at, next_help, stuck_of


def frame(
    *, membership: Membership, own: OwnPosting, item: WorkItem, now_at: str, at: datetime
) -> dict[str, Any]:
    """Context for the templates _strip.html and _stuck.html; `now_at` is the key of the open cell."""
    prefetch_related_objects([own.posting.assignment.exercise], *PARTS_NEED)
    done = done_of(own)
    stuck = stuck_of(own)
    may_record = own.posting.assignment.takes_recordings and membership.may_record
    cells = strip(own=own, item=item, may_record=may_record, done=done, now=now_at)
    return {
        "own": own,
        "item": item,
        "assignment": own.posting.assignment,
        "band": membership.band,
        "at": at,
        "is_open": own.posting.is_open(at),
        "may_record": may_record,
        "done": done,
        "cells": cells,
        "owed": owed(cells, assignment=own.posting.assignment) if may_record else (),
        "stuck": stuck,
        "help": next_help(own, at=at) if stuck else None,
        "stuck_bars": bars_to_be_stuck_at(own),
    }
