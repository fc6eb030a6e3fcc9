from django.apps import AppConfig
from django.db.models.signals import post_delete


class SubmissionsConfig(AppConfig):
    name = "submissions"

    def ready(self) -> None:
        from submissions.models import Take  # noqa: PLC0415 - models exist only from here on
        from submissions.takes.files import delete_files_with_row  # noqa: PLC0415

        post_delete.connect(delete_files_with_row, sender=Take, dispatch_uid="delete-files-of-takes")
