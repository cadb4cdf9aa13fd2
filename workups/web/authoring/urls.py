from django.urls import path

from workups.web.authoring import (
    change_views,
    extension_views,
    history_views,
    method_views,
    prep_views,
    publish_views,
    revision_views,
    rule_views,
    variant_views,
    views,
)
from workups.web.authoring.form import route_views
from workups.web.authoring.form import views as form_views

urlpatterns = [
    path("courses/<uuid:course_id>/exercises/", views.list_exercises, name="list-exercises"),
    path("courses/<uuid:course_id>/exercises/add/", views.add_exercise, name="add-exercise"),
    path("drafts/<uuid:draft_id>/", views.preview_draft, name="preview-draft"),
    path("drafts/<uuid:draft_id>/text/", views.edit_draft, name="edit-draft"),
    path("drafts/<uuid:draft_id>/form/", form_views.author_draft, name="author-draft"),
    path("drafts/<uuid:draft_id>/check/", form_views.check_draft, name="check-draft"),
    path("drafts/<uuid:draft_id>/form/plan/", route_views.edit_route, name="edit-route"),
    path("drafts/<uuid:draft_id>/form/<slug:part>/", form_views.edit_part, name="edit-part"),
    path(
        "drafts/<uuid:draft_id>/history/",
        history_views.show_draft_history,
        name="show-draft-history",
    ),
    path(
        "drafts/<uuid:draft_id>/restore/",
        history_views.return_to_state,
        name="return-to-state",
    ),
    path("drafts/<uuid:draft_id>/file/", views.download_draft, name="download-draft"),
    path("drafts/<uuid:draft_id>/discard/", views.discard_draft, name="discard-draft"),
    path("drafts/<uuid:draft_id>/try/", views.try_draft, name="try-draft"),
    path(
        "drafts/<uuid:draft_id>/publish/",
        publish_views.publish_exercise,
        name="publish-exercise",
    ),
    path("exercises/<uuid:revision_id>/", revision_views.show_exercise, name="show-exercise"),
    path(
        "exercises/<uuid:revision_id>/file/",
        revision_views.download_exercise,
        name="download-exercise",
    ),
    path(
        "exercises/<uuid:revision_id>/revise/",
        revision_views.revise_exercise,
        name="revise-exercise",
    ),
    path("exercises/<uuid:revision_id>/try/", revision_views.try_exercise, name="try-exercise"),
    path(
        "exercises/<uuid:revision_id>/sections/",
        publish_views.assign_exercise,
        name="assign-exercise",
    ),
    path(
        "exercises/<uuid:revision_id>/changes/",
        change_views.compare_revisions,
        name="compare-revisions",
    ),
    path("drafts/<uuid:draft_id>/changes/", change_views.compare_draft, name="compare-draft"),
    path(
        "exercises/<uuid:revision_id>/duplicate/",
        change_views.duplicate_exercise,
        name="duplicate-exercise",
    ),
    path(
        "exercises/<uuid:revision_id>/archive/",
        change_views.archive_exercise,
        name="archive-exercise",
    ),
    path(
        "exercises/<uuid:revision_id>/reopen/",
        change_views.reopen_exercise,
        name="reopen-exercise",
    ),
    path(
        "assignments/<uuid:assignment_id>/move/",
        change_views.move_students,
        name="move-students",
    ),
    path("moves/<uuid:move_id>/take-back/", change_views.take_back_move, name="take-back-move"),
    path(
        "exercises/<uuid:revision_id>/variants/",
        variant_views.add_variant,
        name="add-variant",
    ),
    path("variants/<uuid:variant_id>/", variant_views.show_variant, name="show-variant"),
    path(
        "variants/<uuid:variant_id>/file/",
        variant_views.download_variant,
        name="download-variant",
    ),
    path("variants/<uuid:variant_id>/try/", variant_views.try_variant, name="try-variant"),
    path("variants/<uuid:variant_id>/drop/", variant_views.drop_variant, name="drop-variant"),
    path(
        "assignments/<uuid:assignment_id>/variants/",
        variant_views.give_variant,
        name="give-variant",
    ),
    path(
        "assignments/<uuid:assignment_id>/dates/",
        publish_views.edit_assignment,
        name="edit-assignment",
    ),
    path(
        "assignments/<uuid:assignment_id>/extensions/",
        extension_views.give_extension,
        name="give-extension",
    ),
    path(
        "courses/<uuid:course_id>/prep-sheets/",
        prep_views.list_prep_sheets,
        name="list-prep-sheets",
    ),
    path(
        "assignments/<uuid:assignment_id>/prep-sheet/",
        prep_views.show_prep_sheet,
        name="show-prep-sheet",
    ),
    path(
        "assignments/<uuid:assignment_id>/prep-sheet.pdf",
        prep_views.print_prep_sheet,
        name="print-prep-sheet",
    ),
    path(
        "assignments/<uuid:assignment_id>/section.pdf",
        prep_views.print_section,
        name="print-section",
    ),
    path(
        "assignments/<uuid:assignment_id>/ta-sheet.pdf",
        prep_views.print_ta_sheet,
        name="print-ta-sheet",
    ),
    path(
        "courses/<uuid:course_id>/prep-sheets/<int:year>-<int:week>.pdf",
        prep_views.print_week,
        name="print-week",
    ),
    path(
        "drafts/<uuid:draft_id>/method/",
        method_views.show_draft_method,
        name="show-draft-method",
    ),
    path(
        "exercises/<uuid:revision_id>/method/",
        method_views.show_exercise_method,
        name="show-exercise-method",
    ),
    path("method/", rule_views.show_method, name="show-method"),
    path("rules/", rule_views.list_rules, name="list-rules"),
    path("rules/<slug:code>/", rule_views.show_rule, name="show-rule"),
]
