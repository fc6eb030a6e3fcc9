from django.db import migrations, models
import django.db.models.deletion


class Migration(migrations.Migration):

    dependencies = [
        ('submissions', '0006_restart_uploads'),
    ]

    operations = [
        migrations.AddField(
            model_name='countingtake',
            name='earlier',
            field=models.JSONField(blank=True, default=list),
        ),
        migrations.AddField(
            model_name='countingtake',
            name='instead_of',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='submissions.take'),
        ),
    ]
