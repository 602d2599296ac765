"""A finished file held against the plan: ears hear it, match lays it, verdicts says what it means.

`prove.prove` is the whole. Nothing here opens a file; the media room did.
"""
