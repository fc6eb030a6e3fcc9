"""The rubric a band starts with: three things that can be heard in a short line, four levels each.

Common practice in beginning band; the words are ours. Tuning is left out on purpose: it is not judged in the
first months. "Not yet" is no level.
"""

from submissions.assigning.criteria import CriterionWords

NAME = "Notes, rhythm, tone"
CRITERIA = (
    CriterionWords(
        name="Right notes",
        levels=(
            "many wrong or guessing",
            "same note wrong several times",
            "one or two slips, fixed or isolated",
            "all right, accidentals too",
        ),
    ),
    CriterionWords(
        name="Steady rhythm",
        levels=(
            "no steady beat yet",
            "stops or speeds up more than once",
            "steady, one or two lengths wrong",
            "steady with the count-off, all lengths right",
        ),
    ),
    CriterionWords(
        name="Tone and start of notes",
        levels=(
            "sound does not start reliably",
            "often airy or unclear",
            "mostly clear",
            "clear, steady sound, clean tongue",
        ),
    ),
)
