"""Cures for findings: `with_cures` is the whole; each cure is tried by planning again.

idea: what one is. of_air, of_beats, of_devices, of_wiring: where they come from. table: which may
help against what. trial: which do.
"""

from thundersheet.plan.cures.trial import with_cures

__all__ = ["with_cures"]
