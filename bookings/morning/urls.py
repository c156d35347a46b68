from django.urls import URLPattern, path

from bookings.morning import views

patterns: list[URLPattern] = [
    path("last-night", views.night, name="last_night"),
    path("tomorrow", views.ahead, name="tomorrow"),
]
