"""A wreck part by part: how likely each is good, which set is worth taking out, what became of them.

May import: the states of the solver and what is known in them, `problem`.
"""
