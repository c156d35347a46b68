from contextlib import suppress

from django.apps import AppConfig


class TasksConfig(AppConfig):
    name = "tasks"
    verbose_name = "Tasks"

    def ready(self) -> None:
        with suppress(ImportError):  # until tasks.reading stands
            from tasks import follow  # noqa: F401
