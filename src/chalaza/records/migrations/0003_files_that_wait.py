"""Files that wait for an answer, answers kept for files of one look, sources that are gone for good."""

import chalaza.records.fields
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('records', '0002_no_overlap'),
    ]

    operations = [
        migrations.CreateModel(
            name='Recipe',
            fields=[
                ('id', models.BigAutoField(primary_key=True, serialize=False)),
                ('uid', models.CharField(default=chalaza.records.fields.new_uid, max_length=120, unique=True, validators=[chalaza.records.fields.check_uid])),
                ('look', models.CharField(max_length=64, unique=True, validators=[chalaza.records.fields.check_text])),
                ('name', models.CharField(max_length=255, validators=[chalaza.records.fields.check_text])),
                ('at', chalaza.records.fields.MomentField()),
                ('answers', models.JSONField(blank=True, default=dict)),
                ('zone', models.CharField(blank=True, default='', max_length=64, validators=[chalaza.records.fields.check_text])),
                ('probes', models.JSONField(blank=True, default=dict)),
            ],
            options={
                'ordering': ('id',),
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='Upload',
            fields=[
                ('id', models.BigAutoField(primary_key=True, serialize=False)),
                ('uid', models.CharField(default=chalaza.records.fields.new_uid, max_length=120, unique=True, validators=[chalaza.records.fields.check_uid])),
                ('name', models.CharField(max_length=255, validators=[chalaza.records.fields.check_text])),
                ('sha256', models.CharField(max_length=64, validators=[chalaza.records.fields.check_text])),
                ('size', models.BigIntegerField()),
                ('at', chalaza.records.fields.MomentField()),
                ('work', models.CharField(blank=True, default='', max_length=120, validators=[chalaza.records.fields.check_text])),
            ],
            options={
                'ordering': ('id',),
                'abstract': False,
            },
        ),
        migrations.AddField(
            model_name='source',
            name='purged',
            field=models.BooleanField(default=False),
        ),
    ]
