"""From the plan to a proved cue track: tones, words, the receiver, media files and the proof."""
