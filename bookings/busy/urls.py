from django.urls import path

from bookings.busy import views

patterns = [
    path("calendars/busy", views.busy, name="busy"),
    path("calendars/busy/file", views.upload, name="busy_upload"),
    path("calendars/busy/address", views.follow, name="busy_follow"),
    path("calendars/busy/<int:source_id>/forget", views.drop, name="busy_drop"),
]
