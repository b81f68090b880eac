"""Streamlit pages, one folder a subject, and the only place that knows Streamlit.

May import: everything below. No other package imports a page. Pages call workflows and draw frozen results.
"""
