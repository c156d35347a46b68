from django.apps import AppConfig


class StudioConfig(AppConfig):
    name = "studio"
    verbose_name = "The house"

    def ready(self) -> None:
        from studio import checks  # noqa: F401
        from studio.bench import letters, wants  # noqa: F401
