"""What everything else is said in: time, quantities, places in a file, findings, shapes.

Nothing here knows what a device or a show is, and nothing here touches a file.
"""
