"""The student's report: explanation, results, marks once released, queries about them, sheets.
"""
