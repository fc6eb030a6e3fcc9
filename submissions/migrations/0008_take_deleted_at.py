from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("submissions", "0007_counting_take_falls_back")]

    operations = [migrations.AddField("Take", "deleted_at", models.DateTimeField(blank=True, null=True))]
