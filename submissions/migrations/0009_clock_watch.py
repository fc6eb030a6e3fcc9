from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("submissions", "0008_take_deleted_at")]

    operations = [
        migrations.CreateModel(
            name="ClockWatch",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("believed_at", models.DateTimeField()),
                ("looked_at", models.DateTimeField()),
                ("doubted_since", models.DateTimeField(blank=True, null=True)),
            ],
        )
    ]
