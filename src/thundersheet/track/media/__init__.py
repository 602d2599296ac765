"""The media door: the only room that opens sound and picture files.

In: paths. Out: frozen records, samples on the presentation timeline, and finished files whose
picture is the source's, bit for bit. It knows nothing of tones, words or the plan.
"""

from thundersheet.track.media.compose import write_programme
from thundersheet.track.media.facts import describe
from thundersheet.track.media.job import How, Keep, Side
from thundersheet.track.media.levels import Levels, programme_levels
from thundersheet.track.media.pictures import Thumbnail, frames
from thundersheet.track.media.read import read_sound, read_sounds
from thundersheet.track.media.sound import Facts, Picture, Sound, Stream
from thundersheet.track.media.write import Written, write_control, write_sound

__all__ = [
    "Facts",
    "How",
    "Keep",
    "Levels",
    "Picture",
    "Side",
    "Sound",
    "Stream",
    "Thumbnail",
    "Written",
    "describe",
    "frames",
    "programme_levels",
    "read_sound",
    "read_sounds",
    "write_control",
    "write_programme",
    "write_sound",
]
