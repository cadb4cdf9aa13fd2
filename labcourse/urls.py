from django.urls import include, path

urlpatterns = [
    path("", include("workups.web.accounts.urls")),
    path("", include("workups.web.courses.urls")),
    path("", include("workups.web.planning.urls")),
    path("", include("workups.web.bench.urls")),
    path("", include("workups.web.station.urls")),
    path("", include("workups.web.reports.urls")),
    path("", include("workups.web.authoring.urls")),
    path("", include("workups.web.review.urls")),
]

handler500 = "workups.web.errors.answer_failure"
