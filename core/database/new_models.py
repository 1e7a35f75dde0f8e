"""Creating many models in one step of a migration."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.operations import CreateModel
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ProjectState


class CreateModels(Operation):
    """Create models that follow each other.

    After each single `CreateModel` Django makes the classes of all models again that the new one is related to, which
    is most of the project. Here it makes them once, and a new database is migrated in less than half the time.
    """

    reduces_to_sql = True

    def __init__(self, models: Sequence[CreateModel]) -> None:
        self.models = models

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        # The classes, which are made when they are next asked for.
        vars(state).pop("apps", None)
        for model in self.models:
            model.state_forwards(app_label, state)

    def database_forwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        for model in self.models:
            model.database_forwards(app_label, schema_editor, from_state, to_state)

    def database_backwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        for model in reversed(self.models):
            model.database_backwards(app_label, schema_editor, from_state, to_state)

    def describe(self) -> str:
        return f"Create models {', '.join(model.name for model in self.models)}"


def created_at_once(operations: Sequence[Operation]) -> list[Operation]:
    """Return the operations of a migration with the models at their beginning created in one step."""
    first = next((n for n, each in enumerate(operations) if not isinstance(each, CreateModel)), len(operations))
    models = [each for each in operations[:first] if isinstance(each, CreateModel)]
    return [CreateModels(models), *operations[first:]]
