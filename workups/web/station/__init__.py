"""The shared station by the balances, ``/station/``: no sign-in, a bench code and a PIN.

They open the weighings of one record, without names, under a key of the session of its own. The PIN
is hashed; five wrong tries per code and address in a quarter of an hour, or twenty per code from
anywhere in an hour, lock the code, and 120 from one address in a quarter of an hour
lock all codes for it (``services/station.py``). The
server ends the seat after the time chosen at the start; the script warns first, and without it the
page leaves by itself. A seat is not the person's session: another PIN ends it.
"""
