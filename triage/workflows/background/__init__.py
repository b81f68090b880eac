"""Work of minutes in a process of its own, with progress that survives a reload.

May import: every other folder of the workflows.
"""
