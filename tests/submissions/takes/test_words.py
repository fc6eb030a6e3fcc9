"""What students are told about takes: translatable, and the same as the engine says."""

import subprocess
import sys

import pytest
from django.conf import settings

from submissions.models import Take
from submissions.preparing.findings import FINDING_SENTENCES, REFUSAL_SENTENCES, Finding, Limits, Refusal
from submissions.takes.words import DELETED, FOR_TRANSLATORS, GIVEN_UP, finding_sentences, reason_of


def test_every_sentence_of_the_engine_is_marked_for_translators():
    spoken = [*FINDING_SENTENCES.values()]
    spoken += [sentence.format(minutes=Limits().longest_minutes) for sentence in REFUSAL_SENTENCES.values()]

    assert sorted(FOR_TRANSLATORS) == sorted(spoken)
    assert set(FINDING_SENTENCES) == set(Finding)
    assert set(REFUSAL_SENTENCES) == set(Refusal)


@pytest.mark.parametrize("sentence", [*FOR_TRANSLATORS, GIVEN_UP, DELETED])
def test_each_is_one_sentence_that_fits_its_column(sentence):
    assert sentence.endswith(".")
    assert sentence.count(".") == 1
    assert len(sentence) <= Take._meta.get_field("reason").max_length


def test_what_an_older_version_found_and_nobody_knows_any_more_is_not_told():
    assert finding_sentences(Take(findings=["silent", "haunted"])) == {
        "silent": "Nothing can be heard in this recording; check the microphone and record it again."
    }
    assert reason_of(Take()) == ""


def test_a_web_worker_starts_without_loading_sound_or_score_libraries():
    probe = (
        "import django, sys; django.setup(); import bandroom.urls, submissions.urls; "
        "print([name for name in ('av', 'numpy', 'scipy', 'music21', 'verovio') if name in sys.modules])"
    )

    ended = subprocess.run(
        [sys.executable, "-c", probe], cwd=settings.BASE_DIR, capture_output=True, text=True, check=True
    )

    assert ended.stdout == "[]\n"
