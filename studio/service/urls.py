from django.urls import path

from studio.service import views

urlpatterns = [
    path("bench/service", views.plans, name="service_plans"),
    path("bench/service/new", views.plan, name="service_new"),
    path("bench/service/<int:pk>", views.plan, name="service_plan"),
    path("bench/service/<int:pk>/<slug:key>", views.one, name="service_one"),
    path("bench/service/<int:pk>/<slug:key>/slot", views.slot, name="service_slot"),
    path("bench/service/<int:pk>/<slug:key>/no-slot", views.no_slot, name="service_no_slot"),
    path("bench/service/<int:pk>/<slug:key>/done", views.finish, name="service_done"),
]
