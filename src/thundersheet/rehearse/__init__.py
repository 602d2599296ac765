"""The rehearsal: a plan played against physics of its own, one show or a whole evening.

`records` is what a rehearsal finds; pictures, pages and `--json` read it and nothing else.
"""
