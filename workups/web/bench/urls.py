from django.urls import path

from workups.web.bench import (
    offline_views,
    partner_views,
    reading_views,
    replay_views,
    sheet_views,
    step_views,
    supply_views,
    views,
)

urlpatterns = [
    path("work/<uuid:work_id>/bench/", views.show_bench, name="show-bench"),
    path("work/<uuid:work_id>/bench/start/", views.start_bench, name="start-bench"),
    path("work/<uuid:work_id>/bench/join/", partner_views.join_bench, name="join-bench"),
    path("work/<uuid:work_id>/bench/share/", partner_views.answer_share, name="answer-share"),
    path("work/<uuid:work_id>/bench/leave/", partner_views.leave_bench, name="leave-bench"),
    path("review/<uuid:work_id>/part/", partner_views.part_partner, name="part-partner"),
    path("service-worker.js", offline_views.service_worker, name="service-worker"),
    path(
        "work/<uuid:work_id>/bench/offline/",
        offline_views.show_offline_bench,
        name="show-offline-bench",
    ),
    path(
        "work/<uuid:work_id>/bench/connection/",
        replay_views.check_connection,
        name="check-connection",
    ),
    path("work/<uuid:work_id>/bench/replay/", replay_views.replay_entry, name="replay-entry"),
    path("work/<uuid:work_id>/bench/sheet/", sheet_views.type_sheet, name="type-sheet"),
    path("review/<uuid:work_id>/supply/", supply_views.supply_readings, name="supply-readings"),
    path("work/<uuid:work_id>/bench/lock/", views.lock_readings, name="lock-readings"),
    path(
        "work/<uuid:work_id>/bench/steps/add/", step_views.add_bench_step, name="add-bench-step"
    ),
    path(
        "work/<uuid:work_id>/bench/steps/<slug:step_id>/mark/",
        step_views.mark_step,
        name="mark-step",
    ),
    path(
        "work/<uuid:work_id>/bench/steps/<slug:step_id>/change/",
        step_views.change_bench_step,
        name="change-bench-step",
    ),
    path(
        "work/<uuid:work_id>/bench/steps/<slug:step_id>/drying/",
        reading_views.record_drying,
        name="record-drying",
    ),
    path(
        "work/<uuid:work_id>/bench/steps/<slug:step_id>/volume/",
        reading_views.record_volume,
        name="record-volume",
    ),
    path(
        "work/<uuid:work_id>/bench/reagents/",
        reading_views.record_reagents,
        name="record-reagents",
    ),
    path(
        "work/<uuid:work_id>/bench/weighings/",
        reading_views.record_weighing,
        name="record-weighing",
    ),
    path("work/<uuid:work_id>/bench/parts/", reading_views.record_part, name="record-part"),
    path(
        "work/<uuid:work_id>/bench/signs/", reading_views.record_witness, name="record-witness"
    ),
    path(
        "work/<uuid:work_id>/bench/readings/<int:reading_id>/correct/",
        reading_views.correct_reading,
        name="correct-reading",
    ),
]
