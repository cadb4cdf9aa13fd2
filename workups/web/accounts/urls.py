from django.urls import path

from workups.web import preferences
from workups.web.accounts import second_step_views, views

urlpatterns = [
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-in/second/", second_step_views.confirm_sign_in, name="confirm-sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("password/forgotten/", views.forgot_password, name="forgot-password"),
    path("password/change/", views.change_password, name="change-password"),
    path("password/set/<uuid:person_id>/<str:token>/", views.set_password, name="set-password"),
    path("me/", views.show_profile, name="show-profile"),
    path("me/devices/sign-out/", views.sign_out_devices, name="sign-out-devices"),
    path("me/second-step/", second_step_views.set_up_second_step, name="set-up-second-step"),
    path("me/second-step/drop/", second_step_views.drop_second_step, name="drop-second-step"),
    path("colour-scheme/", preferences.set_colour_scheme, name="set-colour-scheme"),
]
