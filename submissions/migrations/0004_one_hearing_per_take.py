"""One hearing of each take for each version of the listener."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("submissions", "0003_join_hearings")]

    operations = [
        migrations.RemoveField("Hearing", "line"),
        migrations.AddConstraint(
            "Hearing",
            models.UniqueConstraint(
                fields=["take", "engine_version"], name="one_hearing_per_take_and_version"
            ),
        ),
    ]
