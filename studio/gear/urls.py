from django.urls import path

from studio.gear import presses, stock, views

urlpatterns = [
    path("gear", views.gear_search, name="gear_search"),
    path("gear/all/", views.gear_list, name="gear_list"),
    path("faults/<int:pk>/seen-again", presses.seen_again, name="seen_again"),
    path("faults/<int:pk>/cleared", presses.cleared, name="cleared"),
    path("faults/<int:pk>/heard", presses.heard, name="heard"),
    path("gear/counted/<int:pk>", stock.stock, name="stock"),
    path("gear/<path:tag>", views.unit, name="unit"),
]
