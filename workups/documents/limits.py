"""How large a document may be. Generous for real work, small enough to stay fast."""

MAX_BYTES = 200_000
MAX_STEPS = 60
MAX_PORTIONS = 48  # of all extractions and washes of a plan together: each is a simulated shake
MAX_ITEMS = 200
MAX_PROBLEMS = 50

KEY_LENGTH = 60
FLASK_LENGTH = 60
LINE_LENGTH = 300
NOTE_LENGTH = 2_000
PROSE_LENGTH = 20_000
