"""The rubric a band starts with: three things that can be heard in a short line, four levels each.

Common practice in beginning band; the words are ours. Tuning is left out on purpose: it is not judged in the
first months. "Not yet" is no level.
"""

from django.utils.translation import gettext_noop

from submissions.assigning.criteria import CriterionWords

NAME = gettext_noop("Notes, rhythm, tone")
CRITERIA = (
    CriterionWords(
        name=gettext_noop("Right notes"),
        levels=(
            gettext_noop("many wrong or guessing"),
            gettext_noop("same note wrong several times"),
            gettext_noop("one or two slips, fixed or isolated"),
            gettext_noop("all right, accidentals too"),
        ),
    ),
    CriterionWords(
        name=gettext_noop("Steady rhythm"),
        levels=(
            gettext_noop("no steady beat yet"),
            gettext_noop("stops or speeds up more than once"),
            gettext_noop("steady, one or two lengths wrong"),
            gettext_noop("steady with the count-off, all lengths right"),
        ),
    ),
    CriterionWords(
        name=gettext_noop("Tone and start of notes"),
        levels=(
            gettext_noop("sound does not start reliably"),
            gettext_noop("often airy or unclear"),
            gettext_noop("mostly clear"),
            gettext_noop("clear, steady sound, clean tongue"),
        ),
    ),
)
