"""What is said of a solved plan: verdict, steps, money lines, quote, stored forecast.

May import: `pricing`, `solver`, `problem`.
"""
