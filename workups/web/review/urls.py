from django.urls import path

from workups.web.review import class_views, door_views, release_views, standards_views, views

urlpatterns = [
    path("assignments/<uuid:assignment_id>/door/", door_views.show_door, name="show-door"),
    path("assignments/<uuid:assignment_id>/lab/", door_views.show_lab, name="show-lab"),
    path("review/<uuid:work_id>/plan/", door_views.read_plan, name="read-plan"),
    path("review/<uuid:work_id>/admit/", door_views.admit_work, name="admit-work"),
    path("review/<uuid:work_id>/clear-hold/", door_views.clear_hold, name="clear-hold"),
    path("review/<uuid:work_id>/tick/", door_views.tick_bench, name="tick-bench"),
    path("courses/<uuid:course_id>/review/", views.review_queue, name="review-queue"),
    path("courses/<uuid:course_id>/remarks/", views.list_remarks, name="list-remarks"),
    path("remarks/<uuid:remark_id>/drop/", views.drop_remark, name="drop-remark"),
    path(
        "courses/<uuid:course_id>/review/overdue/",
        release_views.lock_overdue,
        name="lock-overdue",
    ),
    path("review/<uuid:work_id>/", views.review_report, name="review-report"),
    path("review/<uuid:work_id>/accept/", views.accept_report, name="accept-report"),
    path("review/<uuid:work_id>/points/", views.adjust_points, name="adjust-points"),
    path(
        "review/<uuid:work_id>/points/<int:adjustment_id>/take-back/",
        views.take_back_adjustment,
        name="take-back-adjustment",
    ),
    path("review/<uuid:work_id>/assess/", views.assess_work, name="assess-work"),
    path("review/<uuid:work_id>/comment/", views.comment_report, name="comment-report"),
    path("review/<uuid:work_id>/return/", views.return_report, name="return-report"),
    path("review/<uuid:work_id>/history/", views.show_mark_history, name="show-mark-history"),
    path("queries/<uuid:query_id>/answer/", views.answer_query, name="answer-query"),
    path(
        "assignments/<uuid:assignment_id>/release/",
        release_views.release_section,
        name="release-section",
    ),
    path(
        "assignments/<uuid:assignment_id>/open-results/",
        release_views.open_results,
        name="open-results",
    ),
    path(
        "exercises/<uuid:revision_id>/marking/",
        standards_views.show_standards,
        name="show-standards",
    ),
    path(
        "exercises/<uuid:revision_id>/marking/draw/",
        standards_views.draw_second_readings,
        name="draw-second-readings",
    ),
    path("review/<uuid:work_id>/anchor/", standards_views.choose_anchor, name="choose-anchor"),
    path("compared/<uuid:compared_id>/", standards_views.mark_compared, name="mark-compared"),
    path(
        "compared/<uuid:compared_id>/drop/", standards_views.drop_compared, name="drop-compared"
    ),
    path("exercises/<uuid:revision_id>/class/", class_views.show_class, name="show-class"),
    path(
        "exercises/<uuid:revision_id>/class/report.pdf",
        class_views.print_class,
        name="print-class",
    ),
    path(
        "courses/<uuid:course_id>/gradebook/",
        class_views.export_gradebook,
        name="export-gradebook",
    ),
    path(
        "courses/<uuid:course_id>/gradebook/identifiers/",
        class_views.set_outside_ids,
        name="set-outside-ids",
    ),
]
