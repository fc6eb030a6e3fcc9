import uuid

from django.db import migrations, models


def give_keys(apps, schema_editor):
    Membership = apps.get_model("people", "Membership")
    for pk in Membership.objects.values_list("pk", flat=True):
        Membership.objects.filter(pk=pk).update(key=uuid.uuid4())


class Migration(migrations.Migration):
    """Each membership gets a random key, which is all that stays of a student who is erased."""

    dependencies = [("people", "0001_initial")]

    operations = [
        migrations.CreateModel(
            name="Erasure",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", models.UUIDField(default=uuid.uuid4, unique=True)),
                ("erased_at", models.DateTimeField()),
                ("noted_at", models.DateTimeField(blank=True, null=True)),
            ],
            options={"ordering": ("pk",)},
        ),
        migrations.AddField(
            model_name="membership",
            name="key",
            field=models.UUIDField(default=uuid.uuid4, editable=False, null=True),
        ),
        migrations.RunPython(give_keys, migrations.RunPython.noop, elidable=True),
        migrations.AlterField(
            model_name="membership",
            name="key",
            field=models.UUIDField(default=uuid.uuid4, editable=False),
        ),
    ]
