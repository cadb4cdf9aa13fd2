"""Pages of who writes, publishes and assigns exercises, and of the stockroom's prep sheets.

The form that an exercise is written in has a folder of its own (``form``); the same draft can be
edited as text. "How this is computed" shows ``explanation/worked.py`` with an exercise's own
numbers.
"""
