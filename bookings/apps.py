from django.apps import AppConfig


class BookingsConfig(AppConfig):
    name = "bookings"
    verbose_name = "Bookings"

    def ready(self) -> None:
        from bookings import folding, follow, gear_wanted, slipped  # noqa: F401
        from bookings.calendar import revisions  # noqa: F401
        from bookings.invitations import rows, silence  # noqa: F401
