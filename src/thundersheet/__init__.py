"""Thundersheet: from one text file to a prop whose every hit lands on its beat."""

__version__ = "0.1.0"
