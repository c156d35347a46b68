from django.urls import path

from studio.whereabouts import count_views, journeys, views

urlpatterns = [
    path("away", views.away, name="away"),
    path("journeys", journeys.journeys, name="journeys"),
    path("u/<int:pk>/where", views.where, name="where"),
    path("u/<int:pk>/here", views.here, name="here"),
    path("u/<int:pk>/back", views.back, name="back_home"),
    path("u/<int:pk>/send", views.send, name="send"),
    path("u/<int:pk>/home", views.lives_there, name="lives_there"),
    path("moves/<int:pk>/<slug:step>", views.move_step, name="move_step"),
    path("u/<int:pk>/lend", views.lend, name="lend"),
    path("u/<int:pk>/due", views.due, name="due"),
    path("u/<int:pk>/parts", views.add_part, name="add_part"),
    path("parts/<int:pk>/<slug:step>", views.part_step, name="part_step"),
    path("rooms/<int:pk>/count", count_views.begin, name="count_begin"),
    path("counts/<int:pk>", count_views.count, name="count"),
    path("counts/<int:pk>/close", count_views.close, name="count_close"),
]
