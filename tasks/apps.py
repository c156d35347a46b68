from django.apps import AppConfig


class TasksConfig(AppConfig):
    name = "tasks"
    verbose_name = "Tasks"

    def ready(self) -> None:
        from tasks import follow, list_asks, open_points, piano, piano_uses, setup_time  # noqa: F401
