from django.urls import URLPattern, path

from bookings.rentals import views

patterns: list[URLPattern] = [
    path("sessions/<int:session_id>/hire-in", views.hire_in, name="hire_in"),
    path("rentals/<int:rental_id>/unit", views.rental_unit, name="rental_unit"),
    path("rentals/<int:rental_id>/change", views.rental_change, name="rental_change"),
    path("rentals/<int:rental_id>/<slug:name>", views.rental_step, name="rental_step"),
]
