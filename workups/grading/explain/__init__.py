"""Explanations of an odd mass: what each slip would have made of it, and what else is seen.

``masses`` has the density of the recorded mass under each slip, ``signs`` what the record shows
besides, ``words`` the question to ask. The simulated students are made without any of it.
"""
