"""The solved plan: states and their likelihoods, backward induction, simulated outcomes, reduced problems.

May import: `problem`.
"""
