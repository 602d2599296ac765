"""What one looks at: the cue sheet, the picture of the sheet, the proof and the one-page report.

Records come in, text goes out. Nothing here decides or computes a time, and only render.py
touches files.
"""
