"""The invented course of Larkmoor College: people, dates, plans and readings made up from a seed.

Nothing in it is a real person, institution or course. Records come from simulated students with
invented slips (``workups.invented_students``), written through the same services as real ones, so
that the demo shows nothing which the program cannot do.
"""
