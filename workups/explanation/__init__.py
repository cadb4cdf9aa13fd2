"""What an author is told of an exercise, beside the marks and from the same runs.

``plausible`` doubts amounts that can be written and are hardly meant, ``starting_mixture`` says
what is in the flask when the reaction is over, ``model_summary`` what to know of the model plan at
a glance, ``left_out`` what is not computed and how much that may matter, ``values_used`` on which
constants it rests. ``worked`` has the equations with the exercise's own numbers: by hand, constant
K, at the pH and volumes of the simulated shake.
"""
