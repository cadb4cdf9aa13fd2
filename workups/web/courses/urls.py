from django.urls import path

from workups.web.courses import roster_views, views

urlpatterns = [
    path("", views.list_courses, name="list-courses"),
    path("courses/open/", views.open_course, name="open-course"),
    path("courses/<uuid:course_id>/", views.show_course, name="show-course"),
    path("courses/<uuid:course_id>/settings/", views.edit_course, name="edit-course"),
    path("courses/<uuid:course_id>/copy/", views.copy_course, name="copy-course"),
    path("courses/<uuid:course_id>/archive/", views.archive_course, name="archive-course"),
    path("courses/<uuid:course_id>/reopen/", views.reopen_course, name="reopen-course"),
    path("courses/<uuid:course_id>/sections/add/", views.add_section, name="add-section"),
    path("sections/<uuid:section_id>/edit/", views.edit_section, name="edit-section"),
    path("courses/<uuid:course_id>/roster/", roster_views.show_roster, name="show-roster"),
    path(
        "courses/<uuid:course_id>/roster/upload/",
        roster_views.upload_roster,
        name="upload-roster",
    ),
    path(
        "courses/<uuid:course_id>/roster/invite/",
        roster_views.invite_people,
        name="invite-people",
    ),
    path("people/<uuid:enrolment_id>/", roster_views.show_enrolment, name="show-enrolment"),
    path(
        "people/<uuid:enrolment_id>/password-link/",
        roster_views.make_password_link,
        name="make-password-link",
    ),
    path(
        "people/<uuid:enrolment_id>/sign-out/",
        roster_views.sign_out_everywhere,
        name="sign-out-everywhere",
    ),
    path(
        "people/<uuid:enrolment_id>/let-sign-in/",
        roster_views.lift_sign_in_stop,
        name="lift-sign-in-stop",
    ),
    path(
        "people/<uuid:enrolment_id>/remove/",
        roster_views.remove_person,
        name="remove-person",
    ),
]
