from django.urls import path

from studio.gearlists import views

urlpatterns = [
    path("house/lists", views.gear_lists, name="gear_lists"),
    path("house/lists/<int:pk>/headings", views.list_headings, name="list_headings"),
    path("house/lists/<int:pk>", views.gear_list, name="gear_list"),
    path("house/lists/<int:pk>/take-in", views.take_in_list, name="take_in_list"),
    path("house/lists/<int:pk>/all-faults", views.all_faults, name="all_faults"),
    path("house/lists/<int:pk>/ask-again", views.forget, name="ask_again"),
    path("house/gear.csv", views.export_gear, name="export_gear"),
]
