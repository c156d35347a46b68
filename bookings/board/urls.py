from django.urls import path

from bookings.board import move_views, views

patterns = [
    path("board", views.board, name="board"),
    path("board/open", views.open_points, name="board_open"),
    path("board/move", move_views.move, name="move"),
    path("board/move/check", move_views.check_move, name="check_move"),
]
