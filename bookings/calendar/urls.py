from django.urls import path

from bookings.calendar import views

patterns = [
    path("calendar/<str:token>.ics", views.feed, name="feed"),
    path("calendars", views.calendars, name="calendars"),
    path("calendars/make", views.make, name="feed_make"),
    path("calendars/<int:feed_id>/renew", views.renew, name="feed_renew"),
    path("calendars/<int:feed_id>/revoke", views.revoke, name="feed_revoke"),
]
