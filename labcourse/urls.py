from django.urls import include, path

urlpatterns = [
    path("", include("workups.web.accounts.urls")),
    path("", include("workups.web.courses.urls")),
]
