"""Pages of a course: its sections, people and roster, dates and settings, and the overview.
"""
