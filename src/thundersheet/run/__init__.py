"""The night: a plan played for guests.

What is here has no clock, thread, file or output: `gate`, `states` and `engine` are told the time
and say what is to be sent; `controller` puts them together; `simulate` tries all of it against a
world that fails by lot.
"""
