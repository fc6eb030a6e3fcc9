"""The hearings of a take's lines become one, with what was heard and the director's ear kept by line.

Where a line was still to be heard, the take waits with all its lines and is heard once; the sweep finds it.
"""

from django.db import migrations
from django.db.models import F


def join(apps, schema_editor):
    hearings = apps.get_model("submissions", "Hearing").objects.using(schema_editor.connection.alias)
    for take, version in list(hearings.values_list("take", "engine_version").distinct()):
        lines = list(hearings.filter(take=take, engine_version=version).order_by("queued_at", "pk"))
        kept = lines[0]
        waiting = [row for row in lines if row.state in ("queued", "running")]
        if waiting:
            # also what a worker holds: its answer would be of one line
            kept.state, kept.tries = "queued", 0
            kept.lease_until = min(row.lease_until or row.queued_at for row in waiting)
        else:
            kept.state = "done" if any(row.state == "done" for row in lines) else "failed"
        # beside a line that was heard one that could not be keeps its reason
        kept.reason = next((row.reason for row in lines if row.reason), "")
        kept.finished_at = max((row.finished_at for row in lines if row.finished_at), default=None)
        kept.evidence = {row.line: row.evidence for row in lines if row.evidence is not None} or None
        kept.overruled = {row.line: row.overruled for row in lines if row.overruled}
        kept.line = ""
        hearings.filter(pk__in=[row.pk for row in lines[1:]]).delete()
        kept.save()


def part(apps, schema_editor):
    hearings = apps.get_model("submissions", "Hearing").objects.using(schema_editor.connection.alias)
    for row in list(hearings.annotate(lines=F("take__lines"))):
        state, heard, ear = row.state, row.evidence or {}, row.overruled
        for place, line in enumerate(row.lines):
            row.line, row.evidence, row.overruled = line, heard.get(line), ear.get(line, {})
            row.state = "failed" if state == "done" and row.evidence is None else state
            if place:
                row.pk, row._state.adding = None, True
            row.save()


class Migration(migrations.Migration):
    dependencies = [("submissions", "0002_hearing_without_line")]

    operations = [migrations.RunPython(join, part)]
