"""Passwords of directors and substitutes."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from bandroom.people.access import signed_in, staff_or_404
from bandroom.people.errors import Refused
from bandroom.people.forms.passwords import ChangePasswordForm, NewPasswordForm
from bandroom.people.password_links import user_of_link
from bandroom.people.services.passwords import set_password


@never_cache
@sensitive_post_parameters("current", "new", "again")
@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def password(request: HttpRequest) -> HttpResponse:
    """One's own. Every other session of the same person ends."""
    user = staff_or_404(request).user
    form = ChangePasswordForm(request.POST or None, user=user)
    if form.is_valid():
        try:
            set_password(user=user, new=form.cleaned_data["new"])
        except Refused as refused:
            messages.error(request, refused.sentence)
            return redirect("people:password")
        update_session_auth_hash(request, user)
        messages.success(request, "Your new password holds from now on. Other devices were signed out.")
        return redirect("people:band")
    return render(request, "people/password.html", {"form": form}, status=422 if form.is_bound else 200)


@never_cache
@sensitive_post_parameters("new", "again")
@require_http_methods(["GET", "HEAD", "POST"])
def set_password_by_link(request: HttpRequest, uid: str, token: str) -> HttpResponse:
    """For whoever holds a one-time link."""
    user = user_of_link(uid, token)
    if user is None:
        return render(request, "people/link_spent.html", status=404)
    form = NewPasswordForm(request.POST or None, user=user)
    if form.is_valid():
        try:
            set_password(user=user, new=form.cleaned_data["new"])
        except Refused:
            return render(request, "people/link_spent.html", status=404)
        messages.success(request, _("Your password is saved. Sign in with it."))
        return redirect("people:sign-in-staff")
    context = {"form": form, "user_of_link": user}
    return render(request, "people/set_password.html", context, status=422 if form.is_bound else 200)
