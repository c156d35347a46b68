from django.urls import path

from studio.labels import views

urlpatterns = [
    path("labels", views.labels, name="labels"),
    path("u/<int:pk>", views.scanned, name="scanned"),
    path("u/<int:pk>/<int:number>", views.scanned, name="scanned"),
]
