"""Pages of who marks: the queue, a report, the door, the class picture, release and gradebook.

Points are typed as what a check is to have, or as a change with its sign, which ``with_sum`` adds
to the points shown. What a finding cost, and what overruling it gives back, is computed in
``selectors/staff_report.py``. ``tests/browser/test_evening_of_marking.py`` marks generated reports
as a new TA would and adds every page up.

With ``Course.anonymous_marking`` the pages show ``marking_code`` for a name until release
(``selectors/anonymity.py``); a new page of marking takes ``name`` and ``hides_names`` from
``report_context``. The plan page of the door names the student; no page of marking leads to it.

Reports that several people mark (``ComparedReport``: anchors, second readings) never show names,
nor anybody's marks before the reader's own; a TA accepts no other report of an exercise before its
anchors. Their marks are for comparison alone.
"""
