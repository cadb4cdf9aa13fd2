from workups.web.pages import page
from workups.web.planning import plan_views, self_check_views, shake_views, views

urlpatterns = [
    page("courses/<uuid:course_id>/work/", views.list_work),
    page("work/<uuid:work_id>/", views.show_work),
    page("work/<uuid:work_id>/reagents/", views.fill_reagents),
    page("work/<uuid:work_id>/plan/", plan_views.build_plan),
    page("work/<uuid:work_id>/plan/restore/", plan_views.restore_plan),
    page("work/<uuid:work_id>/plan/copy/", plan_views.copy_plan),
    page("work/<uuid:work_id>/plan/history/", plan_views.show_plan_history),
    page("work/<uuid:work_id>/plan/versions/<int:version>/", plan_views.show_plan_version),
    page("work/<uuid:work_id>/plan/two-drafts/<int:version>/", plan_views.choose_draft),
    page("work/<uuid:work_id>/plan/print/", plan_views.print_plan),
    page("work/<uuid:work_id>/plan/submit/", plan_views.submit_plan),
    page("work/<uuid:work_id>/plan/shakes/<str:step_id>/", shake_views.show_shake),
    page("work/<uuid:work_id>/plan/steps/<str:step_id>/try/<str:idea>/", shake_views.try_step),
    page("work/<uuid:work_id>/plan/self-check/", self_check_views.self_check),
    page("work/<uuid:work_id>/plan/self-check/<int:attempt>/", self_check_views.show_self_check),
]
