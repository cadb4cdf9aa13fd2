"""Labcourse: ``chemistry`` computes, ``grading`` judges, ``stock`` counts, ``words`` says it,
``documents`` reads and writes files, ``services`` store, ``selectors`` look up, ``web`` and
``sheets`` show.

DEVELOPERS.md has the whole picture.
"""
