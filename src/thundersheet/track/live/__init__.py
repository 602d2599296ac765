"""The night's receiver: whole numbers only, live, the same to the bit on every machine.

In: sound as it comes, in whole-number samples. Out: tones while they still sound, marks, and a
clock that they set. It plays nothing and knows no cue. Files are heard better by
`track.receive`, which may look ahead; this one may not, and fits a small microcontroller.

tables: the numbers. bank: the plain loop, which is the specification. swift: the same in numpy.
ladder: from looks to DOWN and UP. age: how long a tone has sounded. thin: from 48 or 44.1 kHz to
8. hear: events to tones. marks, clock: tones to words, words to a clock.
"""
