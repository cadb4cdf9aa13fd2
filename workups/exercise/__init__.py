"""What an exercise is: chemistry, goals, rubric, choices and texts; and what everybody may know.

``exercise``  the dataclasses. A new field of an exercise is declared there or in
              ``chemistry/setup.py``; see ``documents``
``settings``  the choices of instructors: a line each, read by ``exercise.choice(key)``; files with
              another key or value are refused
``public``    the exercise as everybody may know it: a stated conversion and share of side reactions
              in the place of the exercise's own. All that a student sees of a plan before the
              readings are locked is computed on it. A hidden number that an exercise is given gets
              its public one there; ``tests/exercise/test_public.py`` asks for every field
"""
