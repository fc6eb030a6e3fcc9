from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("submissions", "0009_clock_watch")]

    operations = [
        migrations.CreateModel(
            name="WorkerBeat",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=80, unique=True)),
                ("at", models.DateTimeField()),
            ],
        )
    ]
