"""How large a document may be. Generous for real work, small enough to stay fast.

How long a text or list in it may be is declared with the fields (``chemistry/fields.py``).
"""

MAX_BYTES = 200_000
MAX_PORTIONS = 48  # of all extractions and washes of a plan together: each is a simulated shake
MAX_PROBLEMS = 50
