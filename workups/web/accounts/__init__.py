"""Sign-in, passwords, the second step, and where a person is signed in.

Whoever sets a person's e-mail can take the account over by a password reset, and no role in a
course gives power over a sign-in that is in use. So an instructor hands over a password link, and a
roster sets an e-mail, only before the first password is set; the person is told of the link by mail
and on their own page. Renaming and signing out are for who was never more than a student
(``selectors/courses.py``). For somebody without a working e-mail who has forgotten the password
there is ``manage.py changepassword NAME``.

Sign-in is throttled per name and address together (django-axes), because a whole class signs in
from one address, and so that nobody locks another out from elsewhere; a browser in which the name
has signed in counts for itself, so that nobody does from the lab either (``throttle``). An
instructor lets a student in who is kept out all the same, from the person's page. What hashes
is bounded by address and in all (``services/station.py``). On one's own pages wrong passwords are
counted with the person. Mailed links are limited to three an hour for each person.

Staff may turn on a second step (``services/second_step.py``): whoever has one is signed in by
``sign_in_or_wait`` only, which the password link uses too. ``manage.py drop_second_step NAME`` is
for somebody who has lost authenticator and recovery codes. With ``SECOND_STEP_DEMANDED`` whoever
teaches, and has none, gets no other page before it is set up (``DemandedSecondStepMiddleware``; two
more queries for each of their requests, one where there is one, none where the setting is off).

The keys of second steps are sealed by ``SECRET_KEY`` (``services/sealing.py``), bound to their
person: a database or backup alone makes no codes. Recovery codes have a salt of their own, so they
work where a key can no longer be read; only those made before keys were sealed are salted with the
key. To replace ``SECRET_KEY``: the old one into ``SECRET_KEY_FALLBACKS``, ``manage.py
reseal_keys``, and after a week (the longest session) the old one out.

A session knows whose it is (``models/sessions.py``, Django's sessions extended) and ends seven days
after sign-in, however often it was saved. Whatever changes how a person signs in (a new password,
the second step turned on or off, and with it new recovery codes) ends all their other sessions in
the same transaction (``services/accounts.py``); the one that did it goes on under a new key. An
instructor signs a student out on every device from the person's page, an operator anybody by
``manage.py end_sessions NAME``, or everybody, stations included, by ``--all``. People see on their
own page where they are signed in, and sign devices out (``devices``: what is shown is in each
session's data; that a device is in use is noted once an hour).
"""
