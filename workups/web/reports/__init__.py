"""The student's report: explanation, results, marks once released, queries about them, sheets.

Where each product is when it is weighed stands as one table on the self-check, the report, the
TA's page and the author's preview (``selectors/student_findings.py``).
"""
