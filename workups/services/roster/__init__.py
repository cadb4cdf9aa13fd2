"""A roster file in: read it, show what would change, apply it.

A roster sets an e-mail only before the first password is set, and renames only who was never more
than a student, in this course alone: whoever sets a person's e-mail can take the account over by a
password reset, and no role in a course gives power over a sign-in that is in use.
"""
