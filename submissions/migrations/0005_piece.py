import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("submissions", "0004_one_hearing_per_take")]

    operations = [
        migrations.CreateModel(
            name="Piece",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("start", models.PositiveBigIntegerField()),
                ("bytes", models.PositiveIntegerField()),
                ("name", models.CharField(max_length=120)),
                ("arrived_at", models.DateTimeField()),
                (
                    "take",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="pieces", to="submissions.take"
                    ),
                ),
            ],
            options={
                "ordering": ("start",),
                "constraints": [
                    models.UniqueConstraint(fields=("take", "start"), name="one_piece_at_each_place_of_a_take")
                ],
            },
        ),
    ]
