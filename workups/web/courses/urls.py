from workups.web.courses import roster_views, views
from workups.web.pages import page

urlpatterns = [
    page("", views.list_courses),
    page("first-page/", views.show_first_page),
    page("courses/open/", views.open_course),
    page("courses/<uuid:course_id>/", views.show_course),
    page("courses/<uuid:course_id>/settings/", views.edit_course),
    page("courses/<uuid:course_id>/copy/", views.copy_course),
    page("courses/<uuid:course_id>/archive/", views.archive_course),
    page("courses/<uuid:course_id>/reopen/", views.reopen_course),
    page("courses/<uuid:course_id>/sections/add/", views.add_section),
    page("sections/<uuid:section_id>/edit/", views.edit_section),
    page("courses/<uuid:course_id>/roster/", roster_views.show_roster),
    page("courses/<uuid:course_id>/roster/upload/", roster_views.upload_roster),
    page("courses/<uuid:course_id>/roster/invite/", roster_views.invite_people),
    page("people/<uuid:enrolment_id>/", roster_views.show_enrolment),
    page("people/<uuid:enrolment_id>/password-link/", roster_views.make_password_link),
    page("people/<uuid:enrolment_id>/sign-out/", roster_views.sign_out_everywhere),
    page("people/<uuid:enrolment_id>/let-sign-in/", roster_views.lift_sign_in_stop),
    page("people/<uuid:enrolment_id>/remove/", roster_views.remove_person),
]
