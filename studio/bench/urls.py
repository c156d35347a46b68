from django.urls import path

from studio.bench import views

urlpatterns = [
    path("bench", views.bench, name="bench"),
    path("bench/<int:pk>", views.job, name="bench_job"),
    path("bench/<int:pk>/<slug:what>", views.step, name="bench_step"),
]
