from django.urls import path

from studio.gear import views

urlpatterns = [
    path("gear", views.gear_search, name="gear_search"),
    path("gear/all/", views.gear_list, name="gear_list"),
    path("gear/<path:tag>", views.unit, name="unit"),
]
