"""Where samples go when a file is written: a track of a container, or a WAV file.

Each sink takes blocks of float samples x channels, one after the other from time zero, and turns
them into what its codec wants.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Any, Protocol, cast

import numpy as np

from thundersheet.track.media.fold import quantised, triangular
from thundersheet.track.media.wavout import WavWriter

if TYPE_CHECKING:
    from av.audio.stream import AudioStream
    from av.container import OutputContainer
    from numpy.typing import NDArray

    from thundersheet.track.media.copying import Tallies

DITHER_SEED = 0x5EED
"""Fixed, so that the same input gives the same bytes."""

ENCODERS = {
    ("aac", 16): ("aac", "fltp"), ("aac", 24): ("aac", "fltp"), ("flac", 16): ("flac", "s16"),
    ("flac", 24): ("flac", "s32"), ("alac", 16): ("alac", "s16p"), ("alac", 24): ("alac", "s32p"),
    ("pcm", 16): ("pcm_s16le", "s16"), ("pcm", 24): ("pcm_s24le", "s32"),
}  # fmt: skip
"""Encoder and the sample format it is fed, by codec and bits."""


class Rounding:
    """Float blocks to whole numbers; dither on the programme's channel only.

    Folding 16-bit sound makes steps finer than 16 bits, so rounding it again wants dither. The
    tones do not need it, and a control channel stays at digital silence between them.
    """

    def __init__(self, bits: int, dithered: int | None) -> None:
        self.bits = bits
        self.dithered = dithered if bits == 16 else None
        self.rng = np.random.default_rng(DITHER_SEED)

    def __call__(self, block: NDArray[np.float32]) -> NDArray[np.int32]:
        """Samples x channels as whole numbers."""
        if self.dithered is None:
            return quantised(block, self.bits)
        noise = np.zeros(block.shape, np.float32)
        heard = block[:, self.dithered] != 0  # digital silence stays silent
        noise[heard, self.dithered] = triangular(self.rng, int(np.count_nonzero(heard)))
        return quantised(block, self.bits, noise)


class Sink(Protocol):
    """Takes the sound of one track."""

    written: int
    """Samples taken so far."""

    def write(self, block: NDArray[np.float32]) -> None:
        """Append samples x channels."""

    def close(self) -> None:
        """Nothing more comes."""


class WavSink:
    """A WAV file."""

    def __init__(self, writer: WavWriter, rounding: Rounding) -> None:
        self.writer, self.rounding, self.written = writer, rounding, 0

    def write(self, block: NDArray[np.float32]) -> None:
        """Append samples x channels."""
        self.writer.write(self.rounding(block))
        self.written += len(block)

    def close(self) -> None:
        """Write the sizes."""
        self.writer.close()


class TrackSink:
    """An audio track of a container that is being written."""

    def __init__(
        self, out: OutputContainer, rate: int, channels: int, codec: str, rounding: Rounding,
        bit_rate: int, tallies: Tallies,
    ) -> None:  # fmt: skip
        encoder, self.format = ENCODERS[codec, rounding.bits]
        layout = "mono" if channels == 1 else "stereo"
        # Joint stereo would let programme and tones leak into each other: code each by itself.
        apart = {"aac_ms": "0", "aac_is": "0"} if codec == "aac" else {}
        deep = {"bits_per_raw_sample": "24"} if self.format.startswith("s32") else {}
        options = {**apart, **deep}
        self.stream = cast(
            "AudioStream",
            out.add_stream(encoder, rate=rate, options=options, layout=layout, format=self.format),
        )
        if codec == "aac":
            self.stream.bit_rate = bit_rate
        self.out, self.rounding, self.tallies = out, rounding, tallies
        self.rate, self.layout, self.written = rate, layout, 0

    def write(self, block: NDArray[np.float32]) -> None:
        """Append samples x channels."""
        import av

        frame = av.AudioFrame.from_ndarray(
            self._shaped(block), format=self.format, layout=self.layout
        )
        frame.sample_rate, frame.pts = self.rate, self.written
        frame.time_base = Fraction(1, self.rate)
        self.written += len(block)
        self._mux(self.stream.encode(frame))

    def close(self) -> None:
        """Write what the coder still holds."""
        self._mux(self.stream.encode(None))

    def _mux(self, packets: list[Any]) -> None:
        for packet in packets:
            self.tallies.add(self.stream.index, packet)
            self.out.mux(packet)

    def _shaped(self, block: NDArray[np.float32]) -> NDArray[Any]:
        if self.format == "fltp":
            return np.ascontiguousarray(block.T, np.float32)
        whole = self.rounding(block)
        data: NDArray[Any] = (
            whole.astype(np.int16) if self.rounding.bits == 16 else whole << 8
        )  # 24 bits stand in the upper part of 32
        if self.format.endswith("p"):
            return np.ascontiguousarray(data.T)
        return data.reshape(1, -1)
