"""What once broke when the program was attacked, and the tests that hold it since.

For whoever changes one of these places: run the tests of its line first. A line is a defect in a
few words; its tests are files, or tests of a file after `::`, beside this one. What a class of
defects was closed by stands at the end. Bugs that come of what people do one after another are put
back by `machine/put_back.py` and found again; of the others that was not tried test by test.
"""

import re
from pathlib import Path

import pytest

HERE = Path(__file__).parent

# A student's record or mark
BENCH = {
    "a clock of the year 9999 with a reading breaks every page of its record": (
        "web/test_bounds.py::test_a_clock_out_of_the_courses_reach_is_left_out_and_the_reading_kept",
        "web/test_bounds.py::test_a_clock_stored_before_that_breaks_no_page",
        "web/bench/test_replay_entry.py::test_an_absurd_clock_refuses_no_reading",
        "machine/put_back.py",
    ),
    "a report between lock and assessment is accepted on the plan alone": (
        "web/test_hand_in_states.py::test_a_report_between_lock_and_assessment_is_not_accepted",
        "web/test_hand_in_states.py::"
        "test_what_was_cut_short_is_assessed_whatever_state_its_review_is_in",
        "services/test_reports.py::test_what_the_program_stopped_before_assessing_is_assessed_later",
        "machine/put_back.py",
    ),
    "what the simulation cannot carry out is an error of the server": (
        "web/test_hand_in_states.py::test_a_plan_is_handed_in_whatever_the_core_raises",
        "web/test_hand_in_states.py::test_a_self_check_says_so_whatever_the_core_raises",
        "web/test_hand_in_states.py::test_readings_are_locked_whatever_the_core_raises",
        "web/test_hand_in_states.py::"
        "test_a_plan_that_could_not_be_computed_goes_to_the_bench_once_a_ta_has_read_it",
        "web/test_hand_in_states.py::"
        "test_the_tenth_of_a_millilitre_that_the_core_cannot_carry_out_is_no_server_error",
        "web/review/test_assess_work.py",
        "machine/put_back.py",
    ),
    "a safety hold is passed by another variant after hand-in": (
        "web/test_hand_in_states.py::test_another_form_of_the_exercise_is_held_as_it_is",
        "web/test_hand_in_states.py::test_a_word_on_one_form_of_the_exercise_is_none_on_another",
        "machine/put_back.py",
    ),
    "two at the same moment: first opening, release and move, variant and bench, publishing and "
    "saving, reagents, revising; a mark on another revision, a text that is gone": (
        "races/test_races.py",
        "races/test_lists.py",
        "services/test_two_at_once.py",
        "test_row_order.py",
    ),
    "a page compares before it holds the row": (
        "races/test_pages.py::test_of_two_who_change_the_same_one_is_told",
        "web/test_seen.py",
    ),
    "a course, section, draft or copy is made twice by a double click": (
        "races/test_pages.py::test_a_double_click_makes_one",
        "fuzz/test_double_click.py",
        "web/test_plan_editor.py::test_a_double_click_adds_one_step_and_two_clicks_two",
    ),
    "a computation inside a transaction keeps every other write waiting": (
        "services/test_computing_alone.py",
        "commands/test_demo.py::test_nothing_is_computed_while_rows_are_held",
    ),
    "a number of seven decimals is an error of the server, and stops a device's queue": (
        "web/test_bounds.py::"
        "test_more_decimals_than_the_record_holds_are_refused_with_what_was_typed",
        "web/test_bounds.py::test_no_field_of_the_bench_is_a_server_error",
        "models/test_reading_bounds.py",
        "browser/test_offline_bench.py::test_a_reading_that_is_refused_is_set_aside_and_the_others_go_on",
        "machine/put_back.py",
    ),
    "a client's token of another record is an error of the server": (
        "web/test_bounds.py::test_a_token_of_another_record_is_refused_with_what_was_typed",
        "services/test_bench.py::test_a_token_of_another_record_is_refused",
    ),
    "a switch of section leaves work on the old section's door, dates and TA": (
        "services/test_section_switch.py",
        "machine/put_back.py",
    ),
    "released results disappear for a section when one report is returned": (
        "services/test_reports.py::test_a_report_that_goes_back_takes_nobodys_results_away",
        "web/review/test_shared_results.py",
        "machine/put_back.py",
    ),
    "who reads a code off a label joins a record, and codes can be tried through": (
        "web/bench/test_join_bench.py",
        "machine/put_back.py",
    ),
    "versions that differ in the emergency text cannot be compared": (
        "documents/test_differences.py::test_another_emergency_text_is_told",
        "documents/test_differences.py::test_no_field_is_forgotten",
        "machine/put_back.py",
    ),
}

# An account
ACCOUNTS = {
    "an instructor signs in as a colleague listed as student in a roster": (
        "web/courses/test_roster_pages.py::"
        "test_a_colleague_made_a_student_is_not_signed_in_as_nor_readdressed",
        "web/courses/test_roster_pages.py::test_who_was_staff_before_that_was_kept_is_found_in_the_log",
        "web/courses/test_roster_pages.py::"
        "test_a_link_handed_over_sets_the_first_password_and_the_person_is_told",
        "machine/put_back.py",
    ),
    "the station tells by time which codes there are": (
        "services/test_station.py::test_every_wrong_try_takes_one_hash",
        "web/test_nothing_learnt.py::test_a_station_does_not_tell_which_codes_there_are",
    ),
    "a roster renames a person of another course": (
        "web/courses/test_roster_pages.py::test_a_roster_renames_nobody_of_another_course",
        "services/roster/test_apply.py::test_a_student_shared_with_another_course_keeps_name_and_email",
        "machine/put_back.py",
    ),
    "wrong passwords by anybody lock a name out at the lab's one address": (
        "web/accounts/test_sign_in.py::"
        "test_others_guesses_are_not_in_the_way_of_whoever_signed_in_here_before",
        "web/accounts/test_sign_in.py::test_the_page_says_how_long_and_how_to_get_in_sooner",
        "web/courses/test_roster_pages.py::test_a_student_is_let_in_again_after_wrong_passwords",
        "web/test_requests.py::test_wrong_passwords_from_elsewhere_lock_nobody_out",
    ),
    "the own password can be guessed on one's own pages": (
        "web/accounts/test_show_profile.py::test_ones_own_password_is_not_guessed_without_a_brake",
    ),
    "a restored backup brings back sessions that were ended": (
        "commands/test_restore_ends_sessions.py",
    ),
    "a forgotten password tells by time which names have an address": (
        "web/test_nothing_learnt.py::"
        "test_a_forgotten_password_does_not_tell_which_names_there_are",
        "web/test_nothing_learnt.py::"
        "test_the_mail_for_a_forgotten_password_goes_out_after_the_answer",
    ),
}

# A server
SERVER = {
    "a half-filled step keeps whatever was typed": (
        "web/test_bounds.py::test_a_half_filled_step_keeps_what_a_note_may_have_and_no_more",
        "web/test_bounds.py::test_what_is_stored_of_a_plan_does_not_grow_with_what_is_typed",
        "machine/put_back.py",
    ),
    "a plan may have so many steps and portions that a self-check takes minutes": (
        "web/test_bounds.py::test_a_plan_has_so_many_steps_and_no_more",
        "web/test_bounds.py::test_a_plan_of_many_portions_is_not_computed",
    ),
    "a self-check that the server stopped is no attempt": (
        "services/test_self_checks.py::"
        "test_one_that_the_server_stopped_counts_and_two_do_not_run_at_once",
    ),
    "a number of 4,300 digits in a draft, a date in the year 1": (
        "documents/test_hostile_input.py::"
        "test_a_whole_number_that_nothing_can_show_is_a_problem_of_its_line",
        "web/test_bounds.py::test_dates_are_of_this_century_in_every_time_zone",
        "fuzz/test_forms.py",
    ),
    "unknown names cost a hash each, without limit": (
        "web/accounts/test_sign_in.py::"
        "test_names_tried_one_after_the_other_cost_a_bounded_number_of_hashes",
        "services/test_station.py::test_codes_are_not_tried_through_from_one_address",
    ),
}

CLASSES = {
    "one boundary for what the core raises": (
        "services/test_hand_ins.py::test_trouble_of_the_database_is_not_the_cores",
        "web/test_hand_in_states.py",
    ),
    "a hand-in and its assessment are one machine of named states; the database refuses the rest": (
        "services/test_hand_ins.py::test_every_event_leads_where_the_machine_says",
        "services/test_hand_ins.py::test_the_database_refuses_what_no_event_leads_to",
        "services/test_hand_ins.py::test_the_database_refuses_a_mark_that_rests_on_no_assessment",
        "services/test_hand_ins.py::test_only_what_is_assessed_carries_a_mark",
    ),
    "bounds of a stored column and of its form come from one declaration": (
        "web/test_bounds.py",
        "models/test_reading_bounds.py",
        "documents/test_new_field.py::test_its_bounds_and_choices_are_kept_in_words",
        "fuzz/test_forms.py",
    ),
    "writes hold what they compare": ("races", "test_row_order.py"),
    "people and clock in any order": ("machine",),
    "the queue on a device never blocks, and nothing of it is lost, doubled or another's": (
        "browser/test_offline_bench.py",
        "web/bench/test_replay_entry.py",
        "crash/test_nothing_is_lost.py",
    ),
    "nobody learns by time, size, order or words what the page does not say": (
        "web/test_nothing_learnt.py",
        "web/test_nothing_before_the_lock.py",
        "web/test_same_before_the_lock.py",
    ),
    "a change of a number, a rule's strength or a permission is noticed": (
        "grading/test_mark_constants.py",
        "grading/rules/test_strengths.py",
        "web/test_access_table.py",
        "mutation.py",
    ),
    "what measures the diagnosis shares no code with it, nor what holds the schema": (
        "grading/diagnosis/test_diagnosis_parts.py::"
        "test_students_and_diagnosis_share_no_code_but_the_list_of_slips",
        "documents/test_schema.py::test_real_documents_fit_the_json_schema",
    ),
}
LINES = {**BENCH, **ACCOUNTS, **SERVER, **CLASSES}


@pytest.mark.parametrize("defect", LINES)
def test_what_holds_it_is_there(defect):
    for named in LINES[defect]:
        path, _, test = named.partition("::")
        assert (HERE / path).exists(), named
        if test:
            assert re.search(rf"^def {test}\(", (HERE / path).read_text(), re.MULTILINE), named
