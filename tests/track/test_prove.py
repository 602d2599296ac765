"""Every verdict on a fault made by an independent tool: sox 14.4.2 and ffmpeg 5.1 (Debian 12).

A show of half a minute: programme left (made by sox), cue track right, in both layouts. Each
test damages the finished file as an editor or a player would, and the proof must name the cause.
"""

import subprocess
from dataclasses import replace

import numpy as np
import pytest
import soundfile

from thundersheet.base.time import Span, Time
from thundersheet.base.units import METRIC
from thundersheet.model.device import Command
from thundersheet.model.show import CueTrack
from thundersheet.plan.records import Plan
from thundersheet.plan.schedule import Want, lay_out
from thundersheet.track.encode import encode
from thundersheet.track.media import read_sounds
from thundersheet.track.proof.prove import prove

RATE = 48_000
LENGTH = Time.seconds(30)
PRINT = "a1b2c3d4"


def plan_of(layout: str, fingerprint: str = PRINT, seed: int = 1, **style) -> Plan:
    rng = np.random.default_rng(seed)
    wants = [
        Want(
            cue_id=f"lamp-on-{i}",
            at=Time.seconds(1.0 + 1.37 * i + 0.2 * rng.random()),
            early=Span.ms(80),
            late=Span.ms(40),
            commands=(Command(output=f"main {rng.integers(1, 8)}", value=1.0),),
        )
        for i in range(20)
    ]
    track = CueTrack(layout=layout, **style)
    return Plan(
        show="Half a Minute",
        variant="",
        length=LENGTH,
        fingerprint=fingerprint,
        cues=(),
        style=track,
        schedule=lay_out(wants, track, LENGTH, fingerprint),
        findings=(),
        units=METRIC,
    )


@pytest.fixture(scope="module")
def programme(tmp_path_factory):
    """Half a minute of plucked strings, made by sox."""
    path = tmp_path_factory.mktemp("programme") / "music.wav"
    chord = ["synth", "30", "pluck", "A3", "synth", "30", "pluck", "mix", "E4"]
    sox("-R", "-n", "-r", str(RATE), "-c", "1", path, *chord, "gain", "-n", "-6")
    noise = path.with_name("noise.wav")
    sox("-R", "-n", "-r", str(RATE), "-c", "1", noise, "synth", "30", "pinknoise", "gain", "-20")
    return soundfile.read(path)[0][: 30 * RATE] * 0.5 + soundfile.read(noise)[0][: 30 * RATE]


@pytest.fixture(scope="module", params=["marks", "direct"])
def plan(request):
    return plan_of(request.param)


@pytest.fixture
def show(plan, programme, tmp_path):
    return write_show(tmp_path / "show.wav", plan, programme)


def write_show(path, plan, programme):
    soundfile.write(path, np.column_stack([programme, encode(plan.schedule, RATE)]), RATE)
    return path


def sox(*words):
    subprocess.run(["sox", *map(str, words)], check=True, capture_output=True)


def ffmpeg(source, target, *words):
    command = ["ffmpeg", "-v", "error", "-i", str(source), *map(str, words), str(target)]
    subprocess.run(command, check=True, capture_output=True)
    return target


def soxed(show, *effects):
    target = show.with_name("damaged.wav")
    sox(show, target, *effects)
    return target


def proof_of(plan, path):
    return prove(plan, read_sounds(path), path.name)


def codes(proof):
    return {finding.code for finding in proof.findings if finding.grade == "refuse"}


def test_the_file_as_written_is_proved_to_the_sample(plan, show):
    proof = proof_of(plan, show)
    assert proof.verdict == "proved"
    assert proof.heard_fingerprint == PRINT
    assert max(abs(word.error_ms) for word in proof.words) < 0.03
    assert abs(proof.speed_ppm) < 1.0


@pytest.mark.parametrize(
    ("target", "words"),
    [
        ("show.m4a", ["-c:a", "aac", "-b:a", "128k"]),
        ("show.mp4", ["-c:a", "aac", "-b:a", "96k"]),
        ("show.mp3", ["-c:a", "libmp3lame", "-b:a", "192k"]),
        ("show.flac", []),
        ("show.opus", ["-c:a", "libopus", "-b:a", "128k"]),
        ("show.wav", ["-ar", "44100"]),
    ],
)
def test_what_editors_and_players_make_of_it_is_still_proved(plan, show, target, words):
    proof = proof_of(plan, ffmpeg(show, show.with_name("as-" + target), *words))
    assert proof.verdict == "proved", proof.because
    assert max(abs(word.error_ms) for word in proof.words) < 1.0


@pytest.mark.parametrize("mix", [["remix", "1,2"], ["remix", "1,2", "1,2"]])
def test_channels_summed_to_mono(plan, show, mix):
    proof = proof_of(plan, soxed(show, *mix))
    assert proof.verdict == "summed to mono"
    assert "PROOF-02" in codes(proof)


def test_channels_swapped(plan, show):
    assert proof_of(plan, soxed(show, "remix", "2", "1")).verdict == "channels swapped"


def test_tones_left_out(plan, show):
    assert proof_of(plan, soxed(show, "remix", "1", "1")).verdict == "no tones"


def test_level_too_low(plan, show):
    assert proof_of(plan, soxed(show, "gain", "-30")).verdict == "level out of range"


def test_clipped(plan, show):
    proof = proof_of(plan, soxed(show, "gain", "+16"))
    assert "PROOF-05" in codes(proof)


@pytest.mark.parametrize(
    ("effect", "share", "how"),
    [
        (["speed", "1.0427"], 4.27, "fast, pitch and all"),
        (["speed", "0.96"], -4.0, "slow, pitch and all"),
        (["speed", "1.001"], 0.1, "fast, pitch and all"),
        (["tempo", "-s", "0.99"], -1.0, "slow, with its pitch kept"),
    ],
)
def test_speed_is_named_with_what_it_costs_at_the_end(plan, show, effect, share, how):
    proof = proof_of(plan, soxed(show, *effect))
    assert proof.verdict.startswith("runs ")
    assert how in proof.because
    assert proof.speed_ppm / 1e4 == pytest.approx(share, abs=0.01 + 0.02 * abs(share))


def test_a_tenth_of_a_percent_is_told_in_milliseconds_at_the_end(plan, show):
    proof = proof_of(plan, soxed(show, "speed", "1.001"))
    assert "30 ms early at the end" in proof.because


def test_head_cut(plan, show):
    proof = proof_of(plan, soxed(show, "trim", "2"))
    assert proof.verdict == "head cut"
    assert proof.offset_ms == pytest.approx(-2000, abs=0.1)


def test_something_put_in_front(plan, show):
    proof = proof_of(plan, soxed(show, "pad", "0.5"))
    assert proof.verdict == "starts late"
    assert proof.offset_ms == pytest.approx(500, abs=0.1)


def test_tail_cut(plan, show):
    proof = proof_of(plan, soxed(show, "trim", "0", "20"))
    assert proof.verdict == "tail cut"
    assert any(word.state == "missing" for word in proof.words)


def test_an_older_plans_file(plan, programme, tmp_path):
    older = plan_of(plan.style.layout, "99999999")
    proof = proof_of(plan, write_show(tmp_path / "old.wav", older, programme))
    assert proof.verdict == "another plan's file"
    assert proof.heard_fingerprint == "99999999"


def test_another_shows_file(plan, programme, tmp_path):
    other = plan_of(plan.style.layout, "0badcafe", seed=7)
    proof = proof_of(plan, write_show(tmp_path / "other.wav", other, programme))
    assert proof.verdict in ("another plan's file", "another show's file")


def test_words_muted_are_missing_and_named(plan, show):
    between = "volume=0:enable='between(t,10,13)'"
    target = ffmpeg(show, show.with_name("muted.wav"), "-af", between)
    proof = proof_of(plan, target)
    assert "PROOF-11" in codes(proof) | {"PROOF-12"} & codes(proof)
    gone = [word for word in proof.words if word.state in ("missing", "wrong")]
    assert gone
    assert all(9 < word.expected_s < 13.1 for word in gone)


def test_a_stranger_among_the_tones_is_extra(plan, show):
    tone = ["synth", "0.05", "sine", "697", "synth", "0.05", "sine", "mix", "1209", "gain", "-9"]
    free = free_instant(plan)
    stranger = show.with_name("stranger.wav")
    sox("-n", "-r", RATE, "-c", "2", stranger, *tone, "pad", free, "remix", "0", "1")
    target = show.with_name("both.wav")
    sox("-m", "-v", "1", show, "-v", "1", stranger, target)
    proof = proof_of(plan, target)
    assert proof.verdict == "extra tones"
    assert [word.heard for word in proof.words if word.state == "extra"] == ["1"]


def free_instant(plan) -> float:
    """The middle of the longest silence of the cue track."""
    ends = [0.0, *(word.end.s for word in plan.schedule.words)]
    starts = [*(word.onset.s for word in plan.schedule.words), LENGTH.s]
    gap, end = max((start - end, end) for start, end in zip(starts, ends, strict=True))
    return end + gap / 2 - 0.025


def test_programme_leaking_in(plan, show):
    proof = proof_of(plan, soxed(show, "remix", "1", "2,1v0.3"))
    assert any(finding.code == "PROOF-14" for finding in proof.findings)


def test_short_tones_are_refused_unless_the_book_wants_them(programme, tmp_path):
    asked = plan_of("marks")
    written = plan_of("marks", tone=Span.ms(30), gap=Span.ms(30))
    path = write_show(tmp_path / "short.wav", written, programme)
    assert "PROOF-15" in codes(proof_of(asked, path))
    assert proof_of(written, path).verdict == "proved"


def test_priming_that_a_file_hides_is_named(plan, show):
    target = ffmpeg(show, show.with_name("raw.aac"), "-c:a", "aac", "-b:a", "128k")
    proof = proof_of(plan, target)
    assert proof.verdict == "starts late"
    assert "priming" in proof.because


def test_a_stretch_that_was_retimed_is_told_from_the_rest(plan, show):
    samples, rate = soundfile.read(show)
    cut = int(15.02 * rate)
    target = show.with_name("torn.wav")
    torn = np.concatenate([samples[:cut], np.zeros((int(0.02 * rate), 2)), samples[cut:]])
    soundfile.write(target, torn, rate)
    assert codes(proof_of(plan, target))


def test_the_proof_does_not_depend_on_where_the_plan_was_made(plan, show):
    assert proof_of(plan, show) == proof_of(replace(plan), show)
