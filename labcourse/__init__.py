"""The Django project: settings, typed helpers for the environment, middleware, addresses.

A setting is a line of ``settings.py`` by a helper of ``environment.py``, and a line in
``.env.example``. Without any variable set the program runs in local mode: loopback only, SQLite and
a generated secret in ``.local/``, mail printed on the console; ``DEBUG=true`` adds Django's error
pages and picks up changed static files. ``LABCOURSE_MODE=production`` takes nothing for granted;
``tests/labcourse/test_production.py`` runs ``check --deploy`` on it. ``labcourse/ASVS.md`` says
what of OWASP ASVS 5.0 level 2 is met and where it is tested, ``labcourse/DECISIONS.md`` why things
are as they are.

The promise. What a page calls saved is in the database for good, once. An answer goes out only
after the transaction is committed, and a commit waits for the disk (SQLite ``synchronous=FULL``,
PostgreSQL ``fsync``). What was sent and not answered may or may not be there; sending it again is
harmless, because a bench entry carries a token that is stored once and a change of a plan that
changes nothing adds no version. ``tests/crash`` kills the server at random moments while two
clients write, and on PostgreSQL the database too, then compares what was acknowledged with what is
stored. It kills processes, not the machine: a power cut rests on the disk keeping what it says is
written.

SQLite runs with WAL, foreign keys on, and transactions that take the write lock when they start
(``IMMEDIATE``), waiting up to 20 seconds: a transaction never fails half-way on another writer. A
database that is full, read-only or gone is answered with 503, ``Retry-After`` and a page that says
what to do (``workups/web/errors.py``); nothing half-written is left
(``tests/web/test_database_trouble.py``, ``tests/crash/test_no_database.py``).
"""
