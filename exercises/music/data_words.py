"""What do the tables of fingerings say to a student? Their sentences once more, for the translators' tool.

The tool reads Python, not the tables under `data/`. A test keeps both alike.
"""

from exercises.music.voice import gettext_noop

FOR_TRANSLATORS = (
    gettext_noop(
        "Chromatic F-sharp: F natural is next to it, so keep the right first finger down and add the "
        "chromatic F-sharp key."
    ),
    gettext_noop("Side C: B is next to it, so hold B (left 1) and add the right side C key."),
    gettext_noop("Bis B-flat: no B natural next to it, the left first finger covers both keys."),
    gettext_noop(
        "Sliver key: the note a half step below is next to it, so keep right 1 down and add the "
        "sliver key with the right ring finger."
    ),
    gettext_noop(
        "Chromatic F-sharp: F is next to it, so keep the thumb on and add the two lowest side keys."
    ),
    gettext_noop(
        "Side lever B-flat: B natural is next to it, so leave the thumb on B and use the right first "
        "finger lever."
    ),
    gettext_noop("Thumb B-flat: no B natural next to it, leave the thumb on the B-flat lever."),
    gettext_noop("Left F: the next or last note needs the right ring finger on its hole."),
    gettext_noop("Forked F: the next or last note needs the right ring finger on its hole."),
    gettext_noop("Right little finger off the E♭ key."),
    gettext_noop("Left 1 up, right little finger off the E♭ key. Leaving left 1 down is the commonest slip."),
    gettext_noop("Left 1 up."),
    gettext_noop("Thumb off."),
    gettext_noop("The thumb only touches the register key, not its hole."),
    gettext_noop(
        "Whisper key off. If your director has shown it, touch the vent key with the left thumb as you start."
    ),
)
