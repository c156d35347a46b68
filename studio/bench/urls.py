from django.urls import path

from studio.bench import views

urlpatterns = [
    path("bench", views.bench, name="bench"),
    path("bench/<int:pk>/on-the-bench", views.start, name="bench_start"),
    path("bench/<int:pk>/away", views.away, name="bench_away"),
    path("bench/<int:pk>/expected-back", views.back, name="bench_back"),
    path("bench/<int:pk>/how-bad", views.judge, name="bench_judge"),
    path("bench/<int:pk>/mended", views.mended, name="bench_mended"),
]
