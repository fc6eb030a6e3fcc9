"""What is said to a student about a take, in the language of the page.

Sentences come from the preparation engine, which knows no translation; here they are marked for it.
"""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from submissions.models import Take
from submissions.preparing.findings import FINDING_SENTENCES

GIVEN_UP = gettext_noop(
    "The school's computer could not open this recording; send another one, or ask your director."
)
DELETED = gettext_noop("This recording was deleted because the time it is kept is over.")

# The engine's own sentences, repeated for the translators' tool. A test keeps both alike.
FOR_TRANSLATORS = (
    gettext_noop("Nothing can be heard in this recording; check the microphone and record it again."),
    gettext_noop("This recording is very quiet; move closer to the microphone next time."),
    gettext_noop("This recording is too loud in places; move back from the microphone next time."),
    gettext_noop("This was a video; only its sound was kept."),
    gettext_noop("The end of this file is missing; what came before it was kept."),
    gettext_noop(
        "For a moment nothing was recorded; listen to it, and record it again if a note is missing."
    ),
    gettext_noop("Parts of this file could not be read; the rest was kept."),
    gettext_noop("This file is empty; record it again or choose another file."),
    gettext_noop(
        "This file is not a recording that can be read; send an m4a, mp3, wav, webm, ogg, flac or mp4 file."
    ),
    gettext_noop("There is no sound in this file; record it again or choose another file."),
    gettext_noop(
        "This file was cut off before its end, so it cannot be played; "
        "send it again from where it was made, or record it again."
    ),
    gettext_noop("This recording is less than half a second long; record it again."),
    gettext_noop(
        "This recording is longer than 15 minutes; cut it, or record just the line that is asked for."
    ),
)


def finding_sentences(take: Take) -> dict[str, str]:
    """One sentence for each thing found in a take that can be played, by its code."""
    return {code: _(FINDING_SENTENCES[code]) for code in take.findings if code in FINDING_SENTENCES}


def reason_of(take: Take) -> str:
    """Why a take cannot be played; empty where it can or is still on its way."""
    return _(take.reason) if take.reason else ""
