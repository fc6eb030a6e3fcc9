"""Addresses of this slice: the week, assignments, rubrics, policy."""

from django.urls import URLPattern, URLResolver, path

from submissions.assigning.views import assignments, policy, posting, preview, rubrics, week

urlpatterns: list[URLPattern | URLResolver] = [
    path("week/", week.week, name="week"),
    path("assignments/", assignments.assignments, name="assignments"),
    path("assignments/new/", posting.post, name="post"),
    path("assignments/preview/<int:pk>/", preview.preview_part, name="preview-part"),
    path("assignments/<int:pk>/edit/", posting.edit, name="edit"),
    path("assignments/<int:pk>/copy/", posting.copy, name="copy"),
    path("assignments/<int:pk>/withdraw/", posting.withdraw, name="withdraw"),
    path("assignments/<int:pk>/bring-back/", posting.bring_back, name="bring-back"),
    path("rubrics/", rubrics.rubrics, name="rubrics"),
    path("rubrics/new/", rubrics.rubric_new, name="rubric-new"),
    path("rubrics/<int:pk>/edit/", rubrics.rubric_edit, name="rubric-edit"),
    path("rubrics/<int:pk>/copy/", rubrics.rubric_copy, name="rubric-copy"),
    path("rubrics/<int:pk>/put-away/", rubrics.rubric_put_away, name="rubric-put-away"),
    path("rubrics/<int:pk>/take-out/", rubrics.rubric_take_out, name="rubric-take-out"),
    path("band/policy/", policy.policy, name="policy"),
]
