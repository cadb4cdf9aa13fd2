"""Labcourse: ``chemistry`` computes, ``grading`` judges, ``documents`` reads and writes files,
``services`` store, ``selectors`` look up, ``web`` and ``sheets`` show.

DEVELOPERS.md has the whole picture.
"""
