"""How a take's addresses answer: JSON, never kept by a browser, every refusal one sentence."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.db import OperationalError
from django.http import Http404, HttpRequest, HttpResponseBase, JsonResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from bandroom import room
from submissions.errors import Refused
from submissions.models import Take
from submissions.takes.files import NO_ROOM
from submissions.takes.refusals import Busy, NoRoom, SomebodyElse, StorageAway, TakeRefused, WrongOffset
from submissions.takes.services.arrival import receipt
from submissions.takes.words import finding_sentences, reason_of

# A phone tries again by itself; this is for other programs.
RETRY_SECONDS = "5"

NOT_HERE = gettext_noop("This is not there, or not there any more; what you recorded stays on this phone.")

type View[**P] = Callable[P, HttpResponseBase]


def plainly[**P](view: View[P]) -> View[P]:
    """Turn every refusal into its status and sentence, a full or busy database included."""

    @wraps(view)
    def answered(*args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
        try:
            return view(*args, **kwargs)
        except Refused as refused:
            return refusal(refused)
        except (Http404, Take.DoesNotExist):
            # In JSON as well: a phone must tell this server's "no" from a hotel's Wi-Fi page.
            return private_json({"says": _(NOT_HERE)}, status=404)
        except OperationalError as error:
            return refusal(_database_refusal(error))

    return answered


def refusal(refused: Refused) -> JsonResponse:
    status = refused.status if isinstance(refused, TakeRefused) else TakeRefused.status
    response = private_json({"says": refused.sentence}, status=status)
    if isinstance(refused, WrongOffset):
        response["Upload-Offset"] = str(refused.offset)
    if isinstance(refused, Busy | NoRoom | StorageAway):
        response["Retry-After"] = RETRY_SECONDS
    return response


def private_json(data: dict[str, Any], *, status: int = 200) -> JsonResponse:
    response = JsonResponse(data, status=status)
    response["Cache-Control"] = "private, no-store"
    return response


def take_state(take: Take) -> dict[str, Any]:
    """What a page may know of a take. `sha256` is the server's receipt: None until it has the whole file."""
    playable = take.state == Take.State.READY
    return {
        "id": str(take.pk),
        "state": take.state,
        "words": _(str(Take.State(take.state).label)),
        "says": reason_of(take),
        "lines": take.lines,
        "origin": take.origin,
        "bytes": take.declared_bytes,
        "offset": take.received_bytes,
        "sha256": receipt(take),
        "seconds": take.seconds,
        "findings": [{"code": code, "says": sentence} for code, sentence in finding_sentences(take).items()],
        "peaks": take.peaks,
        "beat_one_seconds": take.beat_one_seconds,
        "sound": reverse("submissions:sound", args=[take.pk]) if playable else None,
    }


def check_same_student(request: HttpRequest, *, student: int) -> None:
    """On a shared computer another child may have signed in since the page was loaded."""
    if student != request.user.pk:
        raise SomebodyElse(
            _("Somebody else is signed in on this computer now; sign in again as yourself. Nothing is lost.")
        )


def _database_refusal(error: OperationalError) -> TakeRefused:
    if room.is_full(error):
        return NoRoom(_(NO_ROOM))
    return Busy(_("The school's computer is busy; your recording is kept here and will be sent in a moment."))
