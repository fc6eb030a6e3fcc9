"""Uploads that were half here lay in a folder of one machine: their phones, which keep them, start again."""

import shutil
from pathlib import Path

from django.conf import settings
from django.core.files.storage import storages
from django.db import migrations


def restart(apps, schema_editor):
    Take = apps.get_model("submissions", "Take")
    half_here = Take.objects.filter(state="declared")
    for name in half_here.exclude(original="").values_list("original", flat=True):
        storages["takes"].delete(name)
    half_here.update(received_bytes=0, original="", lease_until=None)
    shutil.rmtree(Path(settings.VAR_DIR) / "uploads", ignore_errors=True)


class Migration(migrations.Migration):
    dependencies = [("submissions", "0005_piece")]

    operations = [migrations.RunPython(restart, migrations.RunPython.noop)]
