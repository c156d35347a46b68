from django.urls import URLPattern, URLResolver, path

from bookings.board.urls import patterns as board_patterns
from bookings.busy.urls import patterns as busy_patterns
from bookings.calendar.urls import patterns as calendar_patterns
from bookings.invitations.urls import patterns as invitation_patterns
from bookings.jobs import views as jobs
from bookings.kinds.urls import patterns as kind_patterns
from bookings.morning.urls import patterns as morning_patterns
from bookings.people.urls import patterns as people_patterns
from bookings.rentals.urls import patterns as rental_patterns
from bookings.series.urls import patterns as series_patterns
from bookings.sessions import changes, editing, holding, listing, running_on
from bookings.sessions import views as sessions

app_name = "bookings"
urlpatterns: list[URLPattern | URLResolver] = [
    *board_patterns,
    path("sessions", listing.sessions, name="sessions"),
    path("sessions/new", editing.new_session, name="new_session"),
    path("sessions/check", editing.check, name="check"),
    path("sessions/fill-in", editing.fill_in, name="fill_in"),
    path("sessions/<int:session_id>", sessions.session, name="session"),
    path("sessions/<int:session_id>/change", editing.change_session, name="change_session"),
    path("sessions/<int:session_id>/check", editing.check, name="check_change"),
    path("sessions/<int:session_id>/fill-in", editing.fill_in, name="fill_in_change"),
    path("sessions/<int:session_id>/challenge", holding.challenge_hold, name="challenge_hold"),
    path("sessions/<int:session_id>/confirm", holding.confirm_hold, name="confirm_hold"),
    path("sessions/<int:session_id>/release", holding.release_hold, name="release_hold"),
    path("sessions/<int:session_id>/run-on", running_on.run_on_session, name="run_on"),
    path("sessions/<int:session_id>/deposit", sessions.deposit, name="deposit"),
    path("sessions/<int:session_id>/cancel", sessions.cancel_session, name="cancel_session"),
    path("sessions/<int:session_id>/hand-over", sessions.hand_over_session, name="hand_over"),
    path("changes", changes.changes, name="changes"),
    path("jobs", jobs.jobs, name="jobs"),
    path("jobs/new", jobs.new_job, name="new_job"),
    path("jobs/<int:job_id>", jobs.job, name="job"),
    path("jobs/<int:job_id>/change", jobs.edit_job, name="change_job"),
    *calendar_patterns,
    *busy_patterns,
    *kind_patterns,
    *morning_patterns,
    *rental_patterns,
    *people_patterns,
    *series_patterns,
    *invitation_patterns,
]
