from django.urls import URLPattern, path

from bookings.series import views

patterns: list[URLPattern] = [
    path("sessions/<int:session_id>/repeat", views.repeat_session, name="repeat"),
    path("sessions/<int:session_id>/change-series", views.change_many, name="change_series"),
    path("sessions/<int:session_id>/cancel-series", views.cancel_many, name="cancel_series"),
    path("series/<int:series_id>", views.series, name="series"),
]
