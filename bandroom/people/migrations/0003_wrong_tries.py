from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('people', '0002_erasures'),
    ]

    operations = [
        migrations.CreateModel(
            name='WrongTries',
            fields=[
                ('counted', models.CharField(max_length=64, primary_key=True, serialize=False)),
                ('used', models.FloatField()),
                ('at', models.DateTimeField()),
            ],
        ),
    ]
