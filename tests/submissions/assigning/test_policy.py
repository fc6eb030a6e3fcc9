"""The school's policy, as a page."""

import pytest

from submissions.models import Policy
from tests.submissions.assigning.pages import HTML, assert_escaped, said, statuses

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("on_tuesday")]
POLICY = "/band/policy/"
FILLED = {"grace_minutes": "30", "trust_phone_time": "on", "redo": "last", "keep_takes_days": "60"}


def decided(policy):
    return policy.grace_minutes, policy.trust_phone_time, policy.redo, policy.keep_takes_days


def test_it_starts_with_mild_defaults_and_reading_writes_nothing(as_director):
    form = as_director.get(POLICY).context["form"]
    assert [form[name].value() for name in FILLED] == [10, False, "best", 120]
    assert Policy.objects.count() == 0


def test_it_saves_what_the_school_decided_and_changes_it_again(as_director, band):
    response = as_director.post(POLICY, FILLED)
    assert (response.status_code, response.url) == (302, POLICY)
    assert said(response) == ["Saved. Lateness everywhere follows the new rule at once."]
    assert decided(Policy.objects.get(band=band)) == (30, True, "last", 60)
    as_director.post(POLICY, {"grace_minutes": "0", "redo": "best", "keep_takes_days": "1"})
    assert decided(Policy.objects.get(band=band)) == (0, False, "best", 1)


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("grace_minutes", "-1", "Grace is a day at most: write 0 to 1440 minutes."),
        ("grace_minutes", "1441", "Grace is a day at most: write 0 to 1440 minutes."),
        ("grace_minutes", "ten", "Write grace in whole minutes, such as 10."),
        ("grace_minutes", "", "Write grace in whole minutes; 0 for none."),
        ("keep_takes_days", "0", "Recordings are kept for 1 to 730 days."),
        ("keep_takes_days", "731", "Recordings are kept for 1 to 730 days."),
        ("keep_takes_days", "1.5", "Write whole days, such as 120."),
        ("keep_takes_days", "", "Write for how many days recordings are kept, such as 120."),
        ("redo", "", "Choose which attempt counts."),
        ("redo", "worst", "Choose which attempt counts."),
    ],
)
def test_what_is_wrong_is_said_at_its_field(as_director, field, typed, sentence):
    response = as_director.post(POLICY, FILLED | {field: typed})
    assert response.status_code == 422
    assert dict(response.context["form"].errors) == {field: [sentence]}
    assert Policy.objects.count() == 0


@pytest.mark.parametrize(("typed", "stored"), [("0", 0), ("1440", 1440)])
def test_the_ends_of_grace_are_fine(as_director, typed, stored):
    as_director.post(POLICY, FILLED | {"grace_minutes": typed})
    assert Policy.objects.get().grace_minutes == stored


def test_html_in_a_box_is_escaped(as_director):
    assert_escaped(as_director.post(POLICY, FILLED | {"grace_minutes": HTML}))


def test_only_directors_see_or_change_it(as_substitute, as_student, visitor):
    people = (as_substitute, as_student, visitor)
    assert statuses(POLICY, *people) == [404, 404, 302]
    assert statuses(POLICY, *people, method="post") == [404, 404, 401]


def test_each_band_has_its_own(as_director, as_stranger, band):
    as_director.post(POLICY, FILLED)
    assert as_stranger.get(POLICY).context["form"]["grace_minutes"].value() == 10
    as_stranger.post(POLICY, FILLED | {"grace_minutes": "5"})
    assert Policy.objects.get(band=band).grace_minutes == 30


def test_no_other_method_is_allowed(as_director):
    assert as_director.delete(POLICY).status_code == 405
