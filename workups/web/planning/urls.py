from django.urls import path

from workups.web.planning import plan_views, self_check_views, shake_views, try_views, views

urlpatterns = [
    path("courses/<uuid:course_id>/work/", views.list_work, name="list-work"),
    path("work/<uuid:work_id>/", views.show_work, name="show-work"),
    path("work/<uuid:work_id>/reagents/", views.fill_reagents, name="fill-reagents"),
    path("work/<uuid:work_id>/plan/", plan_views.build_plan, name="build-plan"),
    path("work/<uuid:work_id>/plan/restore/", plan_views.restore_plan, name="restore-plan"),
    path("work/<uuid:work_id>/plan/copy/", plan_views.copy_plan, name="copy-plan"),
    path("work/<uuid:work_id>/plan/history/", plan_views.show_history, name="show-plan-history"),
    path(
        "work/<uuid:work_id>/plan/versions/<int:version>/",
        plan_views.show_plan_version,
        name="show-plan-version",
    ),
    path(
        "work/<uuid:work_id>/plan/two-drafts/<int:version>/",
        plan_views.choose_draft,
        name="choose-draft",
    ),
    path("work/<uuid:work_id>/plan/print/", plan_views.print_plan, name="print-plan"),
    path("work/<uuid:work_id>/plan/submit/", plan_views.submit_plan, name="submit-plan"),
    path(
        "work/<uuid:work_id>/plan/shakes/<str:step_id>/", shake_views.show_shake, name="show-shake"
    ),
    path(
        "work/<uuid:work_id>/plan/steps/<str:step_id>/try/<str:idea>/", try_views.try_step,
        name="try-step",
    ),
    path("work/<uuid:work_id>/plan/self-check/", self_check_views.self_check, name="self-check"),
    path(
        "work/<uuid:work_id>/plan/self-check/<int:attempt>/",
        self_check_views.show_self_check,
        name="show-self-check",
    ),
]
