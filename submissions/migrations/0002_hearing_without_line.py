"""A hearing may be of no one line: the ground for one hearing of each take."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("submissions", "0001_initial")]

    operations = [
        migrations.RemoveConstraint("Hearing", "one_hearing_per_line_and_version"),
        migrations.AlterField("Hearing", "line", models.CharField(max_length=2, default="", blank=True)),
    ]
