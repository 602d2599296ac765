"""Text to records and back: every error with its place, every edit with all other bytes kept."""
