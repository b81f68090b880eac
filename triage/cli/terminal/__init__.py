"""What commands have of a terminal: width, progress of long work, words that the shell completes.

May import: what commands may.
"""
