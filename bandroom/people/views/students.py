"""One student: name, seats, permission to record, staying in the band or leaving it."""

from django.contrib import messages
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.timezone import now
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from bandroom.people import queries
from bandroom.people.access import director_or_404, signed_in, staff_or_404
from bandroom.people.errors import Refused
from bandroom.people.forms.students import ChangeSeatForm, NameForm, PermissionsForm, SeatForm, StudentForm
from bandroom.people.models import Band, Membership, RecordingPermission, Role, Seat
from bandroom.people.services import seats, students


def student_in_or_404(band: Band, pk: int) -> Membership:
    """A student's membership of this band, of today or ended."""
    return get_object_or_404(
        Membership.objects.select_related("user", "band"), pk=pk, band=band, role=Role.STUDENT
    )


def _student_or_404(request: HttpRequest, pk: int) -> Membership:
    return student_in_or_404(director_or_404(request).band, pk)


def _seat_or_404(request: HttpRequest, pk: int) -> tuple[Seat, Membership]:
    band = director_or_404(request).band
    seat = get_object_or_404(
        Seat.objects.select_related("section__band", "student"), pk=pk, section__band=band
    )
    return seat, get_object_or_404(
        Membership.objects.select_related("user", "band"), band=band, user=seat.student, role=Role.STUDENT
    )


def _page(
    request: HttpRequest,
    membership: Membership,
    *,
    status: int = 200,
    seat_typed: ChangeSeatForm | None = None,
    **typed: Form,
) -> HttpResponse:
    """The page of one student. What was typed into and is wrong takes the place of the fresh form."""
    band, today = membership.band, membership.band.local(now()).date()
    ever = queries.seats_ever(membership)
    context = {
        "student": membership,
        "band": band,
        "seats": [
            (
                seat,
                seat_typed
                if seat_typed and seat_typed.seat.pk == seat.pk
                else ChangeSeatForm(seat=seat, today=today, prefix=f"seat{seat.pk}"),
            )
            for seat in ever
            if seat.until is None
        ],
        "ended": [seat for seat in ever if seat.until is not None],
        "name_form": NameForm(
            initial={"first_name": membership.user.first_name, "last_name": membership.user.last_name}
        ),
        "seat_form": SeatForm(band=band, prefix="new"),
        "permissions": RecordingPermission.choices,
    }
    return render(request, "people/student.html", context | typed, status=status)


@require_safe
@signed_in
def student(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, student_in_or_404(staff_or_404(request).band, pk))


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def student_new(request: HttpRequest) -> HttpResponse:
    band = director_or_404(request).band
    form = StudentForm(request.POST or None, band=band, initial={"section": request.GET.get("section")})
    if form.is_valid():
        said = form.cleaned_data
        membership = students.create_student(
            band=band,
            first_name=said["first_name"],
            last_name=said["last_name"],
            section=said["section"],
            instrument=said["instrument"],
            recording=RecordingPermission(said["recording"]),
            at=now(),
        )
        messages.success(
            request, f"{membership.user} is in the band. The next thing to do is to print a sign-in card."
        )
        return redirect("people:student", membership.pk)
    context = {"form": form, "band": band, "has_sections": band.sections.exists()}
    return render(request, "people/student_new.html", context, status=422 if form.is_bound else 200)


@require_POST
@signed_in
def student_name(request: HttpRequest, pk: int) -> HttpResponse:
    membership = _student_or_404(request, pk)
    form = NameForm(request.POST)
    if not form.is_valid():
        return _page(request, membership, status=422, name_form=form)
    students.rename_student(user=membership.user, **form.cleaned_data)
    messages.success(request, "Saved. The name-id stays as it is.")
    return redirect("people:student", pk)


@require_POST
@signed_in
def student_recording(request: HttpRequest, pk: int) -> HttpResponse:
    membership = _student_or_404(request, pk)
    asked = request.POST.get("recording", "")
    if asked in RecordingPermission.values:
        students.set_recording(band=membership.band, permissions={membership.pk: RecordingPermission(asked)})
        messages.success(request, "Saved.")
    else:
        messages.error(request, "Choose whether the student may record.")
    return redirect("people:student", pk)


@require_POST
@signed_in
def student_leave(request: HttpRequest, pk: int) -> HttpResponse:
    membership = _student_or_404(request, pk)
    try:
        students.leave_band(membership=membership, at=now())
        messages.success(request, f"{membership.user} has left the band. The card no longer works.")
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("people:student", pk)


@require_POST
@signed_in
def student_come_back(request: HttpRequest, pk: int) -> HttpResponse:
    membership = _student_or_404(request, pk)
    try:
        students.come_back(membership=membership)
        messages.success(request, f"{membership.user} is back. Give a seat, then print a card.")
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("people:student", pk)


@require_POST
@signed_in
def seat_new(request: HttpRequest, pk: int) -> HttpResponse:
    membership = _student_or_404(request, pk)
    form = SeatForm(request.POST, band=membership.band, prefix="new")
    if membership.ended_at is not None:
        messages.error(request, f"{membership.user} has left the band: take the student back first.")
        return redirect("people:student", pk)
    if form.is_valid():
        try:
            seat = seats.take_seat(
                student=membership.user, since=membership.band.local(now()).date(), **form.cleaned_data
            )
        except Refused as refused:
            form.add_error("section", refused.sentence)
        else:
            messages.success(request, f"{membership.user} sits in {seat.section} from today.")
            return redirect("people:student", pk)
    return _page(request, membership, status=422, seat_form=form)


@require_POST
@signed_in
def seat_change(request: HttpRequest, pk: int) -> HttpResponse:
    seat, membership = _seat_or_404(request, pk)
    today = membership.band.local(now()).date()
    form = ChangeSeatForm(request.POST, seat=seat, today=today, prefix=f"seat{seat.pk}")
    if form.is_valid():
        try:
            changed = seats.change_seat(seat=seat, **form.cleaned_data)
            words = f"{changed.get_instrument_display()} in {changed.section}"
            messages.success(request, f"{membership.user} plays {words}. The time before is kept.")
        except Refused as refused:
            messages.error(request, refused.sentence)
        return redirect("people:student", membership.pk)
    return _page(request, membership, status=422, seat_typed=form)


@require_POST
@signed_in
def seat_end(request: HttpRequest, pk: int) -> HttpResponse:
    seat, membership = _seat_or_404(request, pk)
    try:
        seats.end_seat(seat=seat, last_day=membership.band.local(now()).date())
        messages.success(request, f"Today is the last day of {membership.user} in {seat.section}.")
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("people:student", membership.pk)


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def permissions(request: HttpRequest) -> HttpResponse:
    """Who may record, for the whole band at once, as slips come back from home."""
    band = director_or_404(request).band
    places = queries.places_of(band)
    form = PermissionsForm(request.POST or None, memberships=[place.membership for place in places])
    if form.is_valid():
        changed = students.set_recording(band=band, permissions=form.permissions())
        messages.success(request, "Saved." if changed else "Nothing was changed.")
        return redirect("people:permissions")
    rows = [(place, form[f"m{place.membership.pk}"]) for place in places]
    context = {"rows": rows, "form": form, "choices": RecordingPermission.choices}
    return render(request, "people/permissions.html", context, status=422 if form.is_bound else 200)
