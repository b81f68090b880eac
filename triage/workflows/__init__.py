"""The tasks of the program from start to end; the only place that wires the packages together.

May import: everything but the pages and the command line.
"""
