from django.urls import path

from studio.house import add_views, views

urlpatterns = [
    path("house", views.house, name="house"),
    path("house/add", add_views.add, name="add_unit"),
    path("house/<slug:slug>", views.things, name="things"),
    path("house/<slug:slug>/new", views.thing, name="new_thing"),
    path("house/<slug:slug>/<int:pk>", views.thing, name="thing"),
]
