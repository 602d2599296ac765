"""Leads that know the air: what each stroke meets over a declared evening.

`evening` follows the tank, `feed` says what stands before each device, `share` and `sag` who takes
from whom; `states` makes of that the states in which a lead is asked, `serve` the instant that
serves all of them best, `findings` what is wrong with it.
"""
