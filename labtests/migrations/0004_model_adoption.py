"""Drafts and adoptions of scoring models; results that are written by the million."""

from __future__ import annotations

from typing import ClassVar

import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

# Foreign keys would be checked row by row, which takes three to six times as long as writing the rows. Results of
# uploads are checked here instead; those of an adoption are made from the tests themselves, under a lock, and sealed
# in the trail.
REFER = """
CREATE FUNCTION labtests_result_refers() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM FROM labtests_benchtest WHERE id = NEW.test_id FOR KEY SHARE;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'There is no bench test %.', NEW.test_id USING ERRCODE = 'foreign_key_violation';
    END IF;
    PERFORM FROM labtests_scoringmodel WHERE id = NEW.scoring_model_id FOR KEY SHARE;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'There is no scoring model %.', NEW.scoring_model_id USING ERRCODE = 'foreign_key_violation';
    END IF;
    RETURN NULL;
END $$;

CREATE CONSTRAINT TRIGGER labtests_result_refers AFTER INSERT OR UPDATE ON labtests_result
    FOR EACH ROW WHEN (NEW.adoption_id IS NULL) EXECUTE FUNCTION labtests_result_refers();
"""

# And nothing goes that results refer to.
KEEP = """
CREATE FUNCTION labtests_result_keeps() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    is_used boolean;
BEGIN
    EXECUTE format('SELECT EXISTS (SELECT FROM labtests_result WHERE %I = $1)', TG_ARGV[0]) INTO is_used USING OLD.id;
    IF is_used THEN
        RAISE EXCEPTION '% % has results.', TG_TABLE_NAME, OLD.id USING ERRCODE = 'foreign_key_violation';
    END IF;
    RETURN OLD;
END $$;

CREATE TRIGGER labtests_result_keeps BEFORE DELETE ON labtests_benchtest
    FOR EACH ROW EXECUTE FUNCTION labtests_result_keeps('test_id');
CREATE TRIGGER labtests_result_keeps BEFORE DELETE ON labtests_scoringmodel
    FOR EACH ROW EXECUTE FUNCTION labtests_result_keeps('scoring_model_id');
CREATE TRIGGER labtests_result_keeps BEFORE DELETE ON labtests_adoption
    FOR EACH ROW EXECUTE FUNCTION labtests_result_keeps('adoption_id');
"""

UNDO = """
DROP TRIGGER labtests_result_refers ON labtests_result;
DROP FUNCTION labtests_result_refers();
DROP TRIGGER labtests_result_keeps ON labtests_benchtest;
DROP TRIGGER labtests_result_keeps ON labtests_scoringmodel;
DROP TRIGGER labtests_result_keeps ON labtests_adoption;
DROP FUNCTION labtests_result_keeps();
"""


class Migration(migrations.Migration):
    dependencies: ClassVar = [
        ("labtests", "0003_check_shoes_and_gauge_studies"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations: ClassVar = [
        migrations.AlterField(
            model_name="result",
            name="scoring_model",
            field=models.ForeignKey(
                db_constraint=False,
                db_index=False,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="results",
                to="labtests.scoringmodel",
            ),
        ),
        migrations.AlterField(
            model_name="result",
            name="test",
            field=models.ForeignKey(
                db_constraint=False,
                db_index=False,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="results",
                to="labtests.benchtest",
            ),
        ),
        migrations.CreateModel(
            name="Adoption",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("reason", models.TextField()),
                ("at", models.DateTimeField()),
                ("tests", models.PositiveIntegerField()),
                ("tests_changed", models.PositiveIntegerField()),
                ("cards", models.PositiveIntegerField()),
                ("cards_changed", models.PositiveIntegerField()),
                ("withdrawn", models.JSONField(blank=True, default=list)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "model",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="adoption", to="labtests.scoringmodel"
                    ),
                ),
                (
                    "previous",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="labtests.scoringmodel"
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-pk"],
            },
        ),
        migrations.AddField(
            model_name="result",
            name="adoption",
            field=models.ForeignKey(
                db_constraint=False,
                db_index=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="results",
                to="labtests.adoption",
            ),
        ),
        migrations.CreateModel(
            name="ModelDraft",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "version",
                    models.CharField(
                        max_length=20,
                        unique=True,
                        validators=[
                            django.core.validators.RegexValidator(
                                "\\A[A-Za-z0-9][A-Za-z0-9._-]{0,19}\\Z",
                                "Use letters, digits, '.', '_' or '-', a letter or digit first.",
                            )
                        ],
                    ),
                ),
                ("torque_0_nm", models.FloatField()),
                ("torque_100_nm", models.FloatField()),
                ("deflection_0_mm", models.FloatField()),
                ("deflection_100_mm", models.FloatField()),
                ("work_0_j", models.FloatField()),
                ("work_100_j", models.FloatField()),
                ("weight_midfoot", models.FloatField()),
                ("weight_rearfoot", models.FloatField()),
                ("bands", models.JSONField()),
                ("fit", models.JSONField(blank=True, null=True)),
                (
                    "state",
                    models.CharField(
                        choices=[("open", "draft"), ("adopted", "adopted"), ("discarded", "discarded")],
                        default="open",
                        max_length=10,
                    ),
                ),
                ("revision", models.PositiveIntegerField(default=1)),
                ("reason", models.TextField()),
                ("created_at", models.DateTimeField()),
                ("changed_at", models.DateTimeField()),
                (
                    "author",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "base",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="drafts", to="labtests.scoringmodel"
                    ),
                ),
            ],
            options={
                "ordering": ["-created_at", "-pk"],
            },
        ),
        migrations.AddField(
            model_name="adoption",
            name="draft",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT, related_name="adoption", to="labtests.modeldraft"
            ),
        ),
        migrations.AddConstraint(
            model_name="adoption",
            constraint=models.CheckConstraint(
                condition=models.Q(("model", models.F("previous")), _negated=True), name="adoption_of_another_model"
            ),
        ),
        migrations.RunSQL([REFER, KEEP], UNDO),
    ]
