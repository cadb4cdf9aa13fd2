from django.urls import path

from workups.web import preferences
from workups.web.accounts import views

urlpatterns = [
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("password/forgotten/", views.forgot_password, name="forgot-password"),
    path("password/change/", views.change_password, name="change-password"),
    path("password/set/<uuid:person_id>/<str:token>/", views.set_password, name="set-password"),
    path("me/", views.show_profile, name="show-profile"),
    path("colour-scheme/", preferences.set_colour_scheme, name="set-colour-scheme"),
]
