from django.urls import path

from studio.roomsheet import views

urlpatterns = [
    path("rooms/<int:pk>/today", views.room_sheet, name="room_sheet"),
    path("rooms/<int:pk>/notes", views.note, name="room_note"),
    path("room-notes/<int:pk>/end", views.end, name="room_note_end"),
]
