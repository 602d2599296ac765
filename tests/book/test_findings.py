"""Everything that is wrong with a book, in one pass and in whole sentences."""

import re
from pathlib import Path

import pytest
from book_parts import HEAD, codes, refused

import thundersheet.book
from thundersheet.base.codes import explained


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "book: 1\n\tshow: x\n",
            "2:1: There is a tab in the indent of this line. Use spaces only.  [BOOK-06]",
        ),
        (
            "a: {b: 1,\nc: 2\n",
            ("3:1: A `{` is not closed, or a comma is missing inside of it. It began in line 1. "
            "Write `{key: value, key: value}`.  [BOOK-05]"),
        ),
        (
            "what: knock: twice\n",
            ("1:12: There is a second `:` in this value, or the line is indented more than it may "
            'be. Put a text that holds `: ` in quotes: "like: this".  [BOOK-05]'),
        ),
        (
            "a: 'open\n",
            ("2:1: A quote or bracket is opened and never closed. It began in line 1. Close it, or "
            "put the whole text in the other kind of quotes.  [BOOK-05]"),
        ),
        (
            "a: @home\n",
            "1:4: A text cannot begin with this character. Put the text in quotes.  [BOOK-05]",
        ),
        (
            "a: *home\n",
            ("1:4: `*home` is an alias, but nothing is marked `&home` before. A text that begins "
            "with `*` needs quotes.  [BOOK-07]"),
        ),
        (
            "a: &me [*me]\n",
            ("1:9: `*me` stands inside of what it stands for. A text that begins with `*` needs "
            "quotes.  [BOOK-07]"),
        ),
        (
            "a: !!python/object:os.system x\n",
            ("1:4: `!!python/object:os.system` is a tag, and a book has none. Put a text that "
            "begins with `!` in quotes.  [BOOK-07]"),
        ),
        ("a: 1\n---\nb: 2\n", "2:1: A second document begins here. Remove the `---`.  [BOOK-07]"),
        (
            "a: {<<: x}\n",
            ("1:5: `<<` (merge) is not part of a book. Write the keys out, or alias a whole "
            "value.  [BOOK-07]"),
        ),
        ("[a]: 1\n", "1:1: A key must be plain text, not a list or group.  [BOOK-07]"),
        (
            "[" * 45 + "]" * 45,
            "1:41: This is nested more than 40 deep. Close some.  [BOOK-07]",
        ),
        (
            "show: {name: x}\n",
            ("1:1: The book does not say which version of the format it is in. Write `book: 1` in "
            "its first line.  [BOOK-12]"),
        ),
        (
            "book: 2\n",
            ("1:7: The book is in version 2 of the format; this program reads up to 1. Bring the "
            "program up to date: `pipx upgrade thundersheet`.  [BOOK-12]"),
        ),
        (
            "book: 0\n",
            ("1:7: `book: 0` is no version of the format. There is only version 1: write `book: 1` "
            "if the book was written for it.  [BOOK-12]"),
        ),
    ],
)  # fmt: skip
def test_a_text_that_is_no_book_of_ours(text: str, message: str) -> None:
    assert refused(text) == [message]


def test_aliases_that_multiply_are_stopped() -> None:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 10)}]" for i in range(1, 9)]
    assert codes("\n".join(lines)) == ["BOOK-07"]


BEAT_KEYS = "at, do, every, land, may drop, meets, name, only, times, what, window, without"


@pytest.mark.parametrize(
    ("beat", "message"),
    [
        (
            "{at: 0:01, wat: x}",
            ("16:16: `wat` is no key of this beat. Did you mean `what`? Known here: "
            f"{BEAT_KEYS}.  [BOOK-20]"),
        ),
        ("{do: fan on}", "16:5: This beat has no `at`. Write `at: 0:41.500`.  [BOOK-21]"),
        (
            "fan on",
            ("16:5: This beat is a group of keys, and `fan on` is none. Write `{at: ...}`, or keys "
            "on lines below.  [BOOK-22]"),
        ),
        (
            "{at: [1, 2]}",
            "16:10: `at` is a list here. Write one value, as in `at: 0:41.500`.  [BOOK-22]",
        ),
        (
            "{at: 12,5 s}",
            ("16:10: `12,5 s` is parted in two here: it has a decimal comma. Write a point: "
            "`12.5 s`.  [BOOK-30]"),
        ),
        (
            "{at: 0:01, times: 2, every: 1,500 ms}",
            ("16:33: `1,500 ms` is parted in two here: it has a comma, which may be a decimal "
            "comma or group thousands. Write `1500 ms` or `1.500 ms`.  [BOOK-30]"),
        ),
        (
            "{at: 0:01, every: 60 psi, times: 2}",
            ("16:23: `every`: `60 psi` is a pressure, where a time is wanted. Known here: s, ms, "
            "us, ns, min, h.  [BOOK-30]"),
        ),
        (
            "{at: 0:01, times: 2.5, every: 1 s}",
            "16:23: `times`: `2.5` is no whole number. Write a number such as `4`.  [BOOK-30]",
        ),
        (
            "{at: 0:01, times: 0}",
            "16:23: `times: 0` is out of range. Write 1 or more, 10000 or less.  [BOOK-31]",
        ),
        (
            "{at: 0:01, land: arives}",
            ("16:22: `land` cannot be `arives`. Did you mean `arrives`? Known here: arrives, full, "
            "half-way, starts.  [BOOK-32]"),
        ),
        (
            "{at: 0:01, window: hitt}",
            ("16:24: `window` cannot be `hitt`. Did you mean `hit`? Known here: hit, loose, soft, "
            "tight. Or write early and late, `-20..+40 ms`.  [BOOK-32]"),
        ),
        (
            "{at: 0:01, may drop: maybe}",
            ("16:26: `may drop` is a question, and `maybe` no answer to it. Write `yes` or `no`.  "
            "[BOOK-32]"),
        ),
        (
            "{at: 0:01, land: }",
            "16:16: `land` has no value. Write `land: ...`, or remove the key.  [BOOK-33]",
        ),
        (
            "{at: 0:01, at: 0:02}",
            ("16:16: `at` is written twice here, first in line 16. Remove or rename one of them.  "
            "[BOOK-08]"),
        ),
        (
            "{at: 0:01, do: lump on}",
            ("16:20: `lump on` begins with no device of this book. Did you mean `lamp`? Known "
            "here: fan, lamp, lamp two, window.  [BOOK-40]"),
        ),
        (
            "{at: 0:01, do: fan spin}",
            "16:20: `spin` is nothing that `fan` (fan) can do. Known here: off, on.  [BOOK-50]",
        ),
        (
            "{at: 0:01, do: lamp}",
            "16:20: `lamp` (lamp) is not told what to do. Known here: off, on.  [BOOK-50]",
        ),
        (
            "{at: 0:01, do: lamp on quickly}",
            ("16:20: `lamp on quickly`: `quickly` is not understood. `on` takes `for 70 ms`.  "
            "[BOOK-51]"),
        ),
        (
            "{at: 0:01, do: lamp on over 2 s}",
            "16:20: `lamp on over 2 s`: `on` takes no `over`. `on` takes `for 70 ms`.  [BOOK-51]",
        ),
        (
            "{at: 0:01, do: lamp on for 3 volts}",
            ("16:20: `lamp on for 3 volts`: `3 volts` is a voltage, where a time is wanted. Known "
            "here: s, ms, us, ns, min, h.  [BOOK-51]"),
        ),
        (
            "{at: 0:01, do: fan on, times: 2}",
            ("16:5: This beat comes 2 times, but not how far apart. Write `every: 0.6 s` beside "
            "`times`.  [BOOK-52]"),
        ),
        (
            "{at: 0:01, only: loud}",
            ("16:22: `only` names the variant `loud`, which is not in the book. It has no variants "
            "yet.  [BOOK-42]"),
        ),
        (
            "{at: 0:01, meets: wimdow}",
            ("16:23: `meets` names the screen `wimdow`, which is not in the book. Did you mean "
            "`window`? Known here: sound, window.  [BOOK-43]"),
        ),
    ],
)  # fmt: skip
def test_a_beat_that_is_wrong(beat: str, message: str) -> None:
    assert refused(f"{HEAD}beats:\n  - {beat}\n") == [message]


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        (
            "supplies: {a: {volts: 1000 V, current: 2 A}}",
            ("15:23: `volts: 1000 V` is out of range. Write 0.5 V or more, 400 V or less.  "
            "[BOOK-31]"),
        ),
        (
            "limits: {force: 5 kg}",
            ("15:17: `force`: `5 kg` will not do here: a mass is no force; if a scale shows it, "
            "write `kgf`.  [BOOK-30]"),
        ),
        (
            "rules: [{first: fan on}]",
            ("15:9: This rule is not complete, or it is two. A rule says either `never together` "
            "with two or more states, or `first` and `then`.  [BOOK-54]"),
        ),
        (
            "variants: {quiet: {leave out: [fun]}}",
            ("15:32: `leave out` names `fun`, which is no device, action or beat of this book. Did "
            "you mean `fan`? Known here: fan, lamp, lamp two, window.  [BOOK-44]"),
        ),
        (
            "measured: {fan spin: {lead: 3 ms}}",
            "15:22: `spin` is nothing that `fan` (fan) can do. Known here: off, on.  [BOOK-50]",
        ),
        (
            "gests: {per show: 3}",
            ("15:1: `gests` is no key of a book. Did you mean `guests`? Known here: air, beats, "
            "boards, book, devices, evening, guests, limits, measured, night, rules, show, "
            "spreads, supplies, variants.  [BOOK-20]"),
        ),
        (
            "guests: many",
            ("15:9: `guests` is a group of keys, and `many` is none. Write `{key: ...}`, or keys "
            "on lines below.  [BOOK-22]"),
        ),
        (
            "supplies: [a]",
            ("15:11: `supplies` is a group of names, each with its own keys behind it. Write "
            "`supplies:` and below it `name: {...}`.  [BOOK-22]"),
        ),
        (
            "beats: soon",
            ("15:8: `beats` is a list, and `soon` is none. Write items that begin with `- `, or "
            "the name of a CSV file beside the book.  [BOOK-22]"),
        ),
        (
            "supplies: {a/b: {volts: 5 V, current: 1 A}}",
            ("15:12: `a/b` is no name for one of `supplies`. A name may hold letters, digits, "
            "spaces and - _ . ' and begins with a letter or digit; it is used in beats, files and "
            "on paper.  [BOOK-24]"),
        ),
    ],
)  # fmt: skip
def test_a_group_that_is_wrong(lines: str, message: str) -> None:
    assert refused(f"{HEAD}{lines}\n") == [message]


@pytest.mark.parametrize(
    ("device", "message"),
    [
        (
            "{volts: 12 V}",
            "`x` does not say what it is. Write `kind:` and one of: ",
        ),
        ("{kind: lanp}", "`x` is of the kind `lanp`, which is not known. Did you mean `lamp`? "),
        (
            "{kind: lamp, volts: 12 V, current: 1 A, on: mian 3}",
            (
                "`mian 3` is on the board `mian`, which is not in the book. Did you mean `main`? "
                "Known here: main.  [BOOK-41]"
            ),
        ),
        (
            "{kind: lamp, volts: 12 V, current: 1 A, on: main 9}",
            (
                "`main 9`: the board `main` has terminals 1 to 8. Take one of them, or mend its "
                "`terminals`.  [BOOK-41]"
            ),
        ),
        (
            "{kind: lamp, volts: 12 V, current: 1 A, on: main}",
            "`main` is no terminal. Write a board and a number, as in `main 4`.  [BOOK-41]",
        ),
        (
            "{kind: lamp, volts: 12 V, current: 1 A, words: {burn: glow}}",
            "`burn` is to stand for `glow`, which lamp cannot do. Known here: off, on.  [BOOK-53]",
        ),
        (
            "{kind: lamp, volts: 12 V, current: 1 A, bore: 20 mm}",
            "`bore` is no key of `x` (lamp). Known here: ",
        ),
    ],
)
def test_a_device_that_is_wrong(device: str, message: str) -> None:
    (said,) = refused(f"{HEAD}  x: {device}\n")
    assert said.split(": ", 1)[1].startswith(message)


def test_a_word_of_your_own_cannot_turn_an_action_round() -> None:
    assert refused(
        f"{HEAD}  x: {{kind: lamp, volts: 12 V, current: 1 A, words: {{on: off}}}}\n"
    ) == [
        (
            "15:54: `on` is an action of lamp itself; it cannot mean `off`. Choose another word.  "
            "[BOOK-53]"
        )
    ]


def test_one_action_is_measured_once_whatever_it_is_called() -> None:
    text = f"{HEAD}measured:\n  lamp two on: {{lead: 9 ms}}\n  lamp two burn: {{lead: 8 ms}}\n"
    assert refused(text) == [
        (
            "17:18: `lamp two burn` is measured twice, by two names of one action. Remove one of "
            "them.  [BOOK-55]"
        )
    ]


def test_all_errors_of_all_stages_come_in_one_pass_in_the_order_of_the_file() -> None:
    text = HEAD.replace("60 psi", "60 psy").replace("kind: fan", "kind: fam")
    text += "  x: {kind: lamp, volts: 12 W}\nbeats:\n  - {at: 0:61, do: [lump on, fan spin]}\n"
    assert codes(text) == ["BOOK-30", "BOOK-23", "BOOK-21", "BOOK-30", "BOOK-30", "BOOK-40"]


def test_a_broken_tempo_does_not_spoil_every_beat_that_counts_by_it() -> None:
    text = HEAD.replace("per minute: 120", "per minute: fast")
    text += "beats: [{at: bar 3, do: fan on}, {at: frame 9, do: fan on}]\n"
    assert codes(text) == ["BOOK-30"]


def test_findings_beyond_two_hundred_are_counted_not_shown() -> None:
    beats = "".join(f"  - {{at: {i}}}\n" for i in range(1, 301))
    assert codes(f"{HEAD}beats:\n{beats}")[-2:] == ["BOOK-30", "BOOK-60"]
    assert refused(f"{HEAD}beats:\n{beats}")[-1] == "100 more findings are not shown.  [BOOK-60]"


def test_every_code_that_the_reader_uses_is_explained_and_no_other() -> None:
    folder = Path(thundersheet.book.__file__).parent
    used = {
        code
        for file in folder.glob("*.py")
        for code in re.findall(r"\"((?:BOOK|SITE)-\d\d)\"(?!:)", file.read_text())
    }
    known = explained(thundersheet.book)
    assert used == set(known)
    assert all(len(text) > 40 and text.endswith(".") for text in known.values())
