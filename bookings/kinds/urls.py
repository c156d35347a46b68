from django.urls import URLPattern, path

from bookings.kinds import views

patterns: list[URLPattern] = [
    path("kinds", views.kinds, name="kinds"),
    path("kinds/new/<int:site_id>", views.new_kind, name="new_kind"),
    path("kinds/<int:kind_id>", views.change_kind, name="change_kind"),
    path("kinds/<int:kind_id>/offer", views.offer_kind, name="offer_kind"),
    path("kinds/<int:kind_id>/delete", views.delete_kind, name="delete_kind"),
]
