import django.db.models.deletion
import pgtrigger.compiler
import pgtrigger.migrations
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('repairs', '0013_entries_put_right_at_the_office'),
        ('turnouts', '0013_where_a_turnout_is_on_the_earth'),
    ]

    operations = [
        pgtrigger.migrations.RemoveTrigger(
            model_name='repairjob',
            name='insert_insert',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='repairjob',
            name='update_update',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='repairjob',
            name='delete_delete',
        ),
        migrations.RemoveConstraint(
            model_name='repairjob',
            name='one_open_job_of_a_kind_a_component',
        ),
        migrations.AddField(
            model_name='repairjob',
            name='part_count',
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='repairjob',
            name='part_number',
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='repairjob',
            name='part_of',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='parts', to='repairs.repairjob'),
        ),
        migrations.AddField(
            model_name='repairjobevent',
            name='part_count',
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='repairjobevent',
            name='part_number',
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='repairjobevent',
            name='part_of',
            field=models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='repairs.repairjob'),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='repairjob',
            trigger=pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='INSERT INTO "repairs_repairjobevent" ("component_id", "disposition", "due_on", "follows_id", "id", "part_count", "part_number", "part_of_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "procedure", "reference", "state", "turnout_id", "value_per_day", "value_reason", "version") VALUES (NEW."component_id", NEW."disposition", NEW."due_on", NEW."follows_id", NEW."id", NEW."part_count", NEW."part_number", NEW."part_of_id", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."procedure", NEW."reference", NEW."state", NEW."turnout_id", NEW."value_per_day", NEW."value_reason", NEW."version"); RETURN NULL;', hash='624985a4d8b74737c57c9999ef2bab65a76e5d01', operation='INSERT', pgid='pgtrigger_insert_insert_dd3c3', table='repairs_repairjob', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='repairjob',
            trigger=pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(condition='WHEN (OLD.* IS DISTINCT FROM NEW.*)', func='INSERT INTO "repairs_repairjobevent" ("component_id", "disposition", "due_on", "follows_id", "id", "part_count", "part_number", "part_of_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "procedure", "reference", "state", "turnout_id", "value_per_day", "value_reason", "version") VALUES (NEW."component_id", NEW."disposition", NEW."due_on", NEW."follows_id", NEW."id", NEW."part_count", NEW."part_number", NEW."part_of_id", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."procedure", NEW."reference", NEW."state", NEW."turnout_id", NEW."value_per_day", NEW."value_reason", NEW."version"); RETURN NULL;', hash='5455aad8e3098f361d4b566b17a1727a89d3d5a0', operation='UPDATE', pgid='pgtrigger_update_update_0c41d', table='repairs_repairjob', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='repairjob',
            trigger=pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='INSERT INTO "repairs_repairjobevent" ("component_id", "disposition", "due_on", "follows_id", "id", "part_count", "part_number", "part_of_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "procedure", "reference", "state", "turnout_id", "value_per_day", "value_reason", "version") VALUES (OLD."component_id", OLD."disposition", OLD."due_on", OLD."follows_id", OLD."id", OLD."part_count", OLD."part_number", OLD."part_of_id", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."procedure", OLD."reference", OLD."state", OLD."turnout_id", OLD."value_per_day", OLD."value_reason", OLD."version"); RETURN NULL;', hash='a447d89f0c3e2ea7acb11bb60ba7e5d720b47864', operation='DELETE', pgid='pgtrigger_delete_delete_57b62', table='repairs_repairjob', when='AFTER')),
        ),
        migrations.AddConstraint(
            model_name='repairjob',
            constraint=models.UniqueConstraint(condition=models.Q(('part_of__isnull', True), ('state__in', ['estimated', 'issued', 'in_work'])), fields=('component', 'disposition'), name='one_open_job_of_a_kind_a_component'),
        ),
        migrations.AddConstraint(
            model_name='repairjob',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('part_count__isnull', True), ('part_number__isnull', True), ('part_of__isnull', True)), models.Q(('part_count__gte', models.F('part_number')), ('part_number__gte', 1), ('part_of__isnull', False)), _connector='OR'), name='a_part_has_its_number'),
        ),
    ]
