from django.urls import path

from studio.floors import views

urlpatterns = [
    path("house/rooms/<int:pk>/floor", views.floor, name="floor"),
    path("house/rooms/<int:pk>/floor/preview", views.preview, name="floor_preview"),
]
