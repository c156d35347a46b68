from django.urls import path

from studio.photos import views

urlpatterns = [path("photos/<int:pk>", views.photo, name="photo")]
