"""What the school decides, on one page."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from bandroom.people.access import director_or_404, signed_in
from submissions.assigning.forms.policy import PolicyForm
from submissions.takes.quotas import quota_of_band
from submissions.turn_ins.policy import policy_of


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def policy(request: HttpRequest) -> HttpResponse:
    band = director_or_404(request).band
    form = PolicyForm(request.POST or None, instance=policy_of(band))
    if form.is_valid():
        form.save()
        messages.success(request, "Saved. Lateness everywhere follows the new rule at once.")
        return redirect("submissions:policy")
    return render(
        request,
        "submissions/assigning/policy.html",
        {"form": form, "band": band, "room": quota_of_band(band)},
        status=422 if form.is_bound else 200,
    )
