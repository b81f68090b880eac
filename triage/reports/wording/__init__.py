"""Sentences and labels, the same on a page, in a document and in the terminal."""
