"""Numbers in, numbers out, SI inside; every formula names its source.

Nothing here reads a record of the book, opens a file or knows a default that a builder could
measure: such defaults live with the devices.
"""
