from django.urls import path

from bookings.people import views

patterns = [
    path("people", views.people, name="people"),
    path("people/<int:person_id>", views.person, name="person"),
    path("people/<int:person_id>/hours", views.hours, name="person_hours"),
    path("people/<int:person_id>/leave", views.leave, name="person_leave"),
    path("leave/<int:leave_id>/back", views.leave_back, name="leave_back"),
]
