from workups.web import preferences
from workups.web.accounts import second_step, views
from workups.web.pages import page

urlpatterns = [
    page("sign-in/", views.sign_in),
    page("sign-in/second/", second_step.confirm_sign_in),
    page("sign-out/", views.sign_out),
    page("password/forgotten/", views.forgot_password),
    page("password/change/", views.change_password),
    page("password/set/<uuid:person_id>/<str:token>/", views.set_password),
    page("me/", views.show_profile),
    page("me/devices/sign-out/", views.sign_out_devices),
    page("me/second-step/", second_step.set_up_second_step),
    page("me/second-step/drop/", second_step.drop_second_step),
    page("colour-scheme/", preferences.set_colour_scheme),
]
