"""The root of the site's addresses: one urls.py a package."""

from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("studio.urls")),
    path("", include("bookings.urls")),
    path("", include("tasks.urls")),
]
