from django.contrib.auth.views import LogoutView
from django.urls import include, path

from studio import health, views

app_name = "studio"
urlpatterns = [
    path("healthz", health.healthz, name="health"),
    path("", views.home, name="home"),
    path("sign-in", views.SignIn.as_view(), name="sign_in"),
    path("sign-out", LogoutView.as_view(), name="sign_out"),
    path("", include("studio.gearlists.urls")),
    path("", include("studio.floors.urls")),
    path("", include("studio.house.urls")),
    path("", include("studio.labels.urls")),
    path("", include("studio.photos.urls")),
    path("", include("studio.whereabouts.urls")),
    path("", include("studio.roomsheet.urls")),
    path("", include("studio.gear.urls")),
    path("", include("studio.service.urls")),
    path("", include("studio.bench.urls")),
]
