"""The answer made from a solved plan: verdict, steps, margin breakdown, quote, stored forecast.

May import: `pricing`, `solver`, `problem`.
"""
