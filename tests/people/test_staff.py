"""Directors and substitutes: invited, given a link, let go; their passwords."""

import re
from datetime import datetime, timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from bandroom.people.errors import Refused
from bandroom.people.models import Band, Membership, Role, Seat, User
from bandroom.people.password_links import password_link, user_of_link
from bandroom.people.services.passwords import set_password
from bandroom.people.services.staff import end_staff, invite_staff, may_give_link
from tests import factories

pytestmark = pytest.mark.django_db
STAFF = reverse("people:staff")
INVITATION = {
    "email": "Nell.Park@School.Example",
    "first_name": "Ms. Nell",
    "last_name": "Park",
    "role": "substitute",
}
GOOD = "three green valves hum"


def link_in(answer) -> str:
    found = re.search(r'value="http://testserver(/welcome/[^"]+)"', answer.content.decode())
    assert found
    return found.group(1)


def test_an_invited_substitute_sets_a_password_by_the_link_and_signs_in(
    sign_in, director: Membership
) -> None:
    answer = sign_in(director.user).post(STAFF, INVITATION)
    assert answer.status_code == 200
    link, guest = link_in(answer), Client()
    assert "Welcome, Ms. Nell Park" in guest.get(link).content.decode()
    assert guest.post(link, {"new": GOOD, "again": GOOD})["Location"] == reverse("people:sign-in-staff")
    assert (
        guest.post(
            reverse("people:sign-in-staff"), {"username": "nell.park@school.example", "password": GOOD}
        )["Location"]
        == "/"
    )
    membership = Membership.objects.get(user__sign_in_name="nell.park@school.example")
    assert (membership.band, membership.role) == (director.band, Role.SUBSTITUTE)


def test_a_link_works_once(sign_in, director: Membership) -> None:
    link = link_in(sign_in(director.user).post(STAFF, INVITATION))
    Client().post(link, {"new": GOOD, "again": GOOD})
    again = Client().post(link, {"new": "another long one", "again": "another long one"})
    assert again.status_code == 404
    assert "This link no longer works" in again.content.decode()
    assert User.objects.get(sign_in_name="nell.park@school.example").check_password(GOOD)


def test_of_two_presses_of_one_link_at_once_one_counts(director: Membership) -> None:
    first, second = (User.objects.get(pk=director.user_id) for _ in range(2))
    set_password(user=first, new=GOOD)
    with pytest.raises(Refused):
        set_password(user=second, new="another long one")
    assert User.objects.get(pk=director.user_id).check_password(GOOD)


def test_a_link_dies_after_three_days(director: Membership, at: datetime) -> None:
    with time_machine.travel(at, tick=False):
        link = password_link(director.user)
    with time_machine.travel(at + timedelta(days=2, hours=23), tick=False):
        assert Client().get(link).status_code == 200
    with time_machine.travel(at + timedelta(days=3, minutes=1), tick=False):
        assert Client().get(link).status_code == 404


@pytest.mark.parametrize(
    ("uid", "token"),
    [
        ("MQ", "x-y"),
        ("!!", "x"),
        ("OTk5OTk5OTk5OTk5OTk5OTk5OTk5OTk5OTk5", "x-y"),
        ("LTE", "x-y"),
        ("4pyT", "x"),
    ],
)
def test_a_made_up_link_is_nobodys(uid: str, token: str) -> None:
    assert user_of_link(uid, token) is None
    assert Client().get(reverse("people:set-password", args=[uid, token])).status_code == 404


def test_one_persons_token_opens_no_other_account(director: Membership, substitute: Membership) -> None:
    token = password_link(director.user).split("/")[-2]
    uid = password_link(substitute.user).split("/")[-3]
    assert user_of_link(uid, token) is None


def test_a_link_of_someone_who_left_is_dead(
    substitute: Membership, director: Membership, at: datetime
) -> None:
    link = password_link(substitute.user)
    end_staff(membership=substitute, at=at)
    assert Client().get(link).status_code == 404


@pytest.mark.parametrize(
    ("new", "again", "says"),
    [
        ("short", "short", "at least 12"),
        ("password1234", "password1234", "too common"),
        (GOOD, "something else here", "The two are not the same"),
    ],
)
def test_a_poor_password_is_refused_in_words(director: Membership, new: str, again: str, says: str) -> None:
    answer = Client().post(password_link(director.user), {"new": new, "again": again})
    assert answer.status_code == 422
    assert says in answer.content.decode()


def test_changing_ones_password_ends_the_other_sessions_and_not_this_one(
    sign_in, director: Membership
) -> None:
    director.user.set_password("four green valves")
    director.user.save()
    here, elsewhere = sign_in(director.user), sign_in(director.user)
    answer = here.post(
        reverse("people:password"), {"current": "four green valves", "new": GOOD, "again": GOOD}
    )
    assert answer["Location"] == reverse("people:band")
    assert here.get(reverse("people:band")).status_code == 200
    assert elsewhere.get(reverse("people:band")).status_code == 302


def test_the_password_until_now_must_be_right(sign_in, director: Membership) -> None:
    answer = sign_in(director.user).post(
        reverse("people:password"), {"current": "wrong", "new": GOOD, "again": GOOD}
    )
    assert answer.status_code == 422
    assert "This is not your password" in answer.content.decode()


def test_an_invitation_is_no_way_into_an_account_of_another_band(sign_in, director: Membership) -> None:
    """The person is on the staff, keeps name and password, and no link is made."""
    other = factories.make_staff(band=factories.make_band(name="Jazz Band"))
    before = other.user.password
    answer = sign_in(director.user).post(
        STAFF, INVITATION | {"email": other.user.sign_in_name, "first_name": "Mallory"}, follow=True
    )
    page = answer.content.decode()
    assert "signs in with the password that is there" in page
    assert "/welcome/" not in page
    other.user.refresh_from_db()
    assert (other.user.first_name, other.user.password) == ("Imre", before)
    assert Membership.objects.filter(band=director.band, user=other.user).count() == 1


def test_a_director_gives_no_link_that_would_open_another_band(
    sign_in, director: Membership, substitute: Membership
) -> None:
    factories.make_staff(band=factories.make_band(name="Jazz Band"), user=substitute.user)
    assert not may_give_link(membership=substitute)
    answer = sign_in(director.user).post(reverse("people:staff-link", args=[substitute.pk]), follow=True)
    assert "belongs to another band as well" in answer.content.decode()
    assert "/welcome/" not in answer.content.decode()


def test_a_colleague_of_this_band_alone_gets_a_new_link(
    sign_in, director: Membership, substitute: Membership
) -> None:
    answer = sign_in(director.user).post(reverse("people:staff-link", args=[substitute.pk]))
    assert user_of_link(*link_in(answer).strip("/").split("/")[1:]) == substitute.user
    assert answer["Cache-Control"].startswith("max-age=0, no-cache, no-store")


def test_inviting_twice_says_so(sign_in, director: Membership) -> None:
    client = sign_in(director.user)
    client.post(STAFF, INVITATION)
    answer = client.post(STAFF, INVITATION)
    assert answer.status_code == 422
    assert "Ms. Nell Park is on the staff already, as substitute." in answer.content.decode()


def test_a_students_name_cannot_be_invited(band: Band, seat: Seat) -> None:
    with pytest.raises(Refused, match="is a student of this band"):
        invite_staff(
            band=band, email=seat.student.sign_in_name, first_name="x", last_name="", role=Role.DIRECTOR
        )


def test_whoever_was_let_go_can_be_invited_again_in_another_role(
    band: Band, director: Membership, substitute: Membership, at: datetime
) -> None:
    end_staff(membership=substitute, at=at)
    invited = invite_staff(
        band=band, email=substitute.user.sign_in_name, first_name="", last_name="", role=Role.DIRECTOR
    )
    assert invited.membership.pk == substitute.pk
    assert invited.membership.is_director
    assert not invited.needs_link


def test_ending_a_membership_closes_the_band_at_once(
    sign_in, director: Membership, substitute: Membership
) -> None:
    guest = sign_in(substitute.user)
    assert guest.get(reverse("people:band")).status_code == 200
    sign_in(director.user).post(reverse("people:staff-end", args=[substitute.pk]))
    assert guest.get(reverse("people:band")).status_code == 404


def test_the_last_director_stays(sign_in, director: Membership, substitute: Membership) -> None:
    answer = sign_in(director.user).post(reverse("people:staff-end", args=[director.pk]), follow=True)
    assert "A band needs a director: invite the next one first." in answer.content.decode()
    director.refresh_from_db()
    assert director.ended_at is None


def test_of_two_directors_one_may_go(band: Band, director: Membership, at: datetime) -> None:
    factories.make_staff(band=band)
    end_staff(membership=director, at=at)
    assert director.ended_at == at
    with pytest.raises(Refused, match="has left the staff already"):
        end_staff(membership=director, at=at)
