"""What a family may ask a director for: a copy of everything, and that everything is erased."""

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from bandroom.people.access import director_or_404, signed_in
from bandroom.people.forms.families import EraseForm
from bandroom.people.services.erasures import write_notes_if_possible
from bandroom.people.services.families import erase_student, export_zip
from bandroom.people.views.students import student_in_or_404


@never_cache
@require_safe
@signed_in
def student_export(request: HttpRequest, pk: int) -> FileResponse:
    membership = student_in_or_404(director_or_404(request).band, pk)
    day = membership.band.local(now()).date()
    return FileResponse(
        export_zip(membership=membership),
        as_attachment=True,
        filename=f"{membership.user.sign_in_name}-{day}.zip",
        content_type="application/zip",
    )


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def student_erase(request: HttpRequest, pk: int) -> HttpResponse:
    """Asks for the name-id to be typed: this is the one thing that cannot be taken back."""
    membership = student_in_or_404(director_or_404(request).band, pk)
    form = EraseForm(request.POST or None, name_id=membership.user.sign_in_name)
    if form.is_valid():
        name = membership.user.full_name
        at = now()
        erase_student(membership=membership, at=at)
        write_notes_if_possible(at=at)
        messages.success(request, f"Everything about {name} is erased.")
        return redirect("people:band")
    context = {"student": membership, "form": form}
    return render(request, "people/erase.html", context, status=422 if form.is_bound else 200)
