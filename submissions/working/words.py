"""What the student's scripts say. Scripts know codes; the sentences stand here, where they can be translated.

A word in braces is filled in by the script: {seconds}.
"""

from django.utils.translation import gettext as _
from django.utils.translation import ngettext


def recorder_words() -> dict[str, object]:
    kept = _("What you played up to then is kept.")
    return {
        "level": {
            "off": _("Microphone not on yet"),
            "none": _("No sound yet"),
            "quiet": _("Too quiet: come closer"),
            "good": _("Good level"),
            "loud": _("Too loud: step back"),
        },
        "levelLabel": _("Sound level: {level}"),
        "time": _("{now} of about {whole}"),
        "keptSoFar": _("{time} kept on this phone so far. If the internet drops, nothing is lost."),
        "keptHere": _("This take is kept on this phone. Nothing is turned in until you press Turn in."),
        "takeNumber": _("take {number}"),
        "playFirstNote": _("Play your first note"),
        "watchLevel": _("Watch the level. When it says Good level, press Start."),
        "heard": _("The microphone hears you"),
        "pressStart": _("Press Start when you are ready to play."),
        "getReady": _("Get ready"),
        "countsThenPlay": _("Count along. After “play” you play."),
        "breathe": _("Breathe"),
        "playing": _("Playing, bar {bar} of {bars}"),
        "goOn": _("Keep going to the end. A slip is fine. Then press Stop."),
        "listenBack": _("Listen back"),
        "keepOrAgain": _("Keep it, or record again. You can record as often as you like."),
        "stopped": _("Recording stopped. Listen back, keep it, or record again."),
        "found": found_words(),
        "trouble": {
            "error": _("The recorder stopped by itself.") + " " + kept,
            "ended": _("The microphone was unplugged or taken away.") + " " + kept,
            "mute": _("The phone took the microphone away, as it does for a call.") + " " + kept,
            "hidden": _("The recording stopped: the screen went dark, or you opened something else.")
            + " "
            + kept,
            "full": _("This phone has no room left.")
            + f" {kept} "
            + _("Delete something, then record again."),
            "long": _("A take ends by itself after {minutes} minutes.") + " " + kept,
            "silent": _("I hear nothing. Is the microphone covered, or is it the wrong one?"),
            "dead": _("The microphone gives no sound at all. Press Start over: a fresh start often helps."),
            "nothing": _("Nothing was recorded. Check your microphone and try again."),
            "noRoom": _("This phone has no room for a recording. Delete something, then press Start again."),
            "notStarted": _("Recording did not start. Load this page again, then press Start."),
            "notRead": _(
                "Your take is kept on this phone, but it cannot be shown now. Go back to your work to see it."
            ),
            "otherTab": _("You are recording in another tab. Stop there first, then press Start here."),
            "recovered": recovered_words(),
            "checkStopped": _(
                "The microphone is off again: the screen went dark, or you opened something else."
            ),
        },
        "microphone": microphone_words(),
    }


def microphone_words() -> dict[str, object]:
    """What is wrong with a microphone, and the way out of it in each browser.

    The ways are common practice in November 2026, no source; browsers move their switches about.
    """
    load_again = _("Load this page again and press Allow.")
    return {
        "refused": {
            "says": _("This page may not use the microphone."),
            "ways": {
                "chrome": [
                    _("Press the small sign at the left end of the address."),
                    _("Turn the microphone on there."),
                    load_again,
                ],
                "safari": [
                    _("On an iPhone or iPad: press the sign in the address bar, then the site’s settings."),
                    _("On a Mac: open the Safari menu and the settings for this website."),
                    _("Set the microphone to Allow."),
                    load_again,
                ],
                "firefox": [
                    _("Press the crossed-out microphone beside the address."),
                    _("Take the block away with its cross."),
                    load_again,
                ],
            },
        },
        "asked": {
            "says": _("The browser asks about the microphone."),
            "ways": {
                "all": [
                    _("Look for its question, at the top or the bottom of the screen."),
                    _("Press Allow."),
                ]
            },
        },
        "unanswered": {
            "says": _("The browser's question about the microphone was not answered."),
            "ways": {"all": [_("Try again: press the button once more."), _("Then press Allow.")]},
        },
        "silent": {
            "says": _("The sound of this page did not start."),
            "ways": {"all": [_("Try again: press the button once more."), _("Else load this page again.")]},
        },
        "dismissed": {
            "says": _("The question about the microphone was closed."),
            "ways": {"all": [_("Press the button again."), _("Then press Allow.")]},
        },
        "system": {
            "says": _("The phone or computer keeps the microphone from this browser."),
            "ways": {
                "all": [
                    _("Open the settings of the phone or computer."),
                    _("Find privacy, then microphone."),
                    _("Turn it on for this browser, then load this page again."),
                ]
            },
        },
        "none": {
            "says": _("No microphone was found."),
            "ways": {
                "all": [_("Plug one in, or use a phone or another computer.")],
                "chrome": [
                    _(
                        "If one is plugged in: press the sign left of the address, open the site’s settings, "
                        "and choose it there."
                    ),
                ],
                "safari": [_("If one is plugged in: choose it as input in the sound settings of the Mac.")],
                "firefox": [
                    _("If one is plugged in: load this page again and choose it in Firefox’s question.")
                ],
            },
        },
        "busy": {
            "says": _("Another program holds the microphone."),
            "ways": {
                "all": [
                    _("Close calls and other recorders."),
                    _("Close other tabs that record."),
                    _("Press the button again."),
                ]
            },
        },
        "quiet": {
            "says": _("The microphone hears too little."),
            "ways": {
                "all": [
                    _("Come closer, about as far as your arm reaches."),
                    _("Take the case off, and keep your hand away from the microphone."),
                ],
                "chrome": [
                    _(
                        "Wrong microphone? Press the sign left of the address and choose another in the "
                        "site’s settings."
                    ),
                ],
                "safari": [_("Wrong microphone? Choose another in the sound settings of the Mac.")],
                "firefox": [
                    _("Wrong microphone? Load this page again and choose another when Firefox asks.")
                ],
            },
        },
        "loud": {
            "says": _("The microphone hears too much."),
            "ways": {
                "all": [
                    _("Step back, or turn so that the bell does not point at the microphone."),
                ],
                "chrome": [_("On a computer you can turn the input down in its sound settings.")],
                "safari": [_("On a Mac you can turn the input down in its sound settings.")],
                "firefox": [_("On a computer you can turn the input down in its sound settings.")],
            },
        },
        "insecure": {
            "says": _("A microphone only works on a safe address that starts with https."),
            "ways": {"all": [_("Tell your director.")]},
        },
        "unable": {
            "says": _("This browser cannot record."),
            "ways": {
                "all": [
                    _("Update the browser, or use another one."),
                    _("Or record somewhere else, and add the file to your work."),
                ]
            },
        },
        "failed": {
            "says": _("The microphone did not start."),
            "ways": {"all": [_("Load this page again."), _("If that does not help, restart the browser.")]},
        },
    }


def found_words() -> dict[str, str]:
    """What was found in a recording on the phone itself, before it is turned in."""
    return {
        "silent": _("There is no sound in it. Check the microphone and record it again."),
        "quiet": _("It is very quiet. Your director may not hear all of it."),
        "loud": _("It is too loud in places and may rasp."),
        "good": _("Its level is good."),
        "unreadable": _(
            "This browser cannot look into it. Your school’s computer will try when you turn it in."
        ),
        "tooBig": _(
            "It is too big to look into here. Your school’s computer will do it when you turn it in."
        ),
        "quietParts": _("More than half of it is silence."),
        "long": _("It is {length} long; the line takes about {whole}."),
    }


def recovered_words() -> str:
    return _("A recording was cut off before you pressed Stop. What you played is kept here.")


def work_words() -> dict[str, object]:
    return {
        "waiting": {
            "offline": _(
                "No internet right now. Your takes are kept on this phone and go by themselves later."
            ),
            "server": _("The school’s server is busy. Your takes are kept here and go by themselves."),
            "sign-in": _(
                "You were signed out. Sign in again; your takes are kept here and then go by themselves."
            ),
            "other-student": _("Someone else is signed in here. Sign in as yourself; your takes are kept."),
        },
        "signIn": _("Sign in"),
        "states": {
            "recording": _("still recording in another tab"),
            "copying": _("being copied"),
            "kept": _("kept on this phone"),
            "queued": _("sending"),
            "received": _("your school has it"),
            "refused": _("cannot be used"),
        },
        "found": found_words(),
        "recordLine": _("Record line {line}"),
        "oneTake": _("1 take"),
        "takes": _("{count} takes"),
        "noTake": _("no take yet"),
        "onItsWay": _("on its way"),
        "ready": _("ready"),
        "afterTakes": _("after your takes"),
        "done": _("done"),
        "file": _("A file"),
        "cutOff": _("cut off"),
        "isIn": _("in"),
        "turnInPart": _("Line {lines} is still to play. Turn in the rest now?"),
        "turnInPartOfMany": _("Lines {lines} are still to play. Turn in the rest now?"),
        "turnInLine": _("Turn in {lines} now"),
        "notARecording": _(
            "“{name}” is not a recording. Choose an m4a, mp3, wav, webm, ogg, flac or mp4 file."
        ),
        "take": _("Take {number}"),
        "willBeTurnedIn": _("will be turned in"),
        "listen": _("Listen"),
        "stop": _("Stop"),
        "delete": _("Delete"),
        "emptyFile": _("That file is empty. Choose another."),
        "fileKept": _("The file is kept here. Listen to it, then press Turn in."),
        "fileNotKept": _("The file could not be kept on this device. Free some room, then add it again."),
        "looking": _("Looking into the file…"),
        "recovered": recovered_words(),
        "turningIn": _("Turning in…"),
        "stillSending": _("Turned in. Still sending: keep this page open."),
        "stillSendingLate": _("Turned in, after it was due. Still sending: keep this page open."),
        "turnedIn": _("Turned in. Your director has it."),
        "turnedInLate": _("Turned in, after it was due. Your director has it."),
        "noSound": _("The sound of this page did not start. Try again."),
        "cannotPlay": _("This take cannot be played here yet. Try again in a minute."),
        "noRoomToPress": _(
            "This phone has no room left to note your press. Delete something, then press again."
        ),
        "copyOfPage": _("No internet: this page is a copy from earlier."),
    }


def beat_words() -> dict[str, str]:
    """Of the pages on which a line is said, fingered or played with the beat."""
    return {
        "noSound": _("This browser cannot play sound. Try a different one."),
        "stop": _("Stop"),
        "done": _("Line {line} is done, at {tempo} beats a minute."),
        "notSaved": _("You did it. It could not be saved this time."),
        "breathe": _("Breathe"),
        "countOff": _("Count-off"),
    }


def signs_words() -> dict[str, str]:
    """Of the page on which altered notes are found."""
    return {
        "thisOne": _("This one is {note}"),
        "notThisOne": _("Not this one"),
        "listedNotThisOne": _("not this one."),
        "hereIsOne": _("Here is one: {note}"),
        "shownToYou": _("Shown to you."),
        "count": _("{found} found. {left} to go."),
        "onePlain": ngettext("{count} tapped that is plain.", "{count} tapped that are plain.", 1).format(
            count=1
        ),
        "plain": ngettext("{count} tapped that is plain.", "{count} tapped that are plain.", 2),
        "takeYourTime": _("Take your time."),
        "allKnown": _("You know them all."),
    }
