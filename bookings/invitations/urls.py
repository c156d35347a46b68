from django.urls import URLPattern, path

from bookings.invitations import views

patterns: list[URLPattern] = [
    path("calls/<int:call_id>/answer", views.answer, name="answer_call"),
    path("replies", views.replies, name="replies"),
]
