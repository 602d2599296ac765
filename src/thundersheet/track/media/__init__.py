"""The media door: the only room that opens sound and picture files.

In: paths. Out: frozen records, samples on the presentation timeline, and finished files whose
picture is the source's, bit for bit. It knows nothing of tones, words or the plan.

A reader does not load the writers: each name is fetched from its module when it is first used.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
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

WHERE = {
    "write_programme": "compose",
    "describe": "facts",
    "How": "job",
    "Keep": "job",
    "Side": "job",
    "Levels": "levels",
    "programme_levels": "levels",
    "Thumbnail": "pictures",
    "frames": "pictures",
    "read_sound": "read",
    "read_sounds": "read",
    "Facts": "sound",
    "Picture": "sound",
    "Sound": "sound",
    "Stream": "sound",
    "Written": "write",
    "write_control": "write",
    "write_sound": "write",
}


def __getattr__(name: str) -> Any:
    """A name of this room, from the module that has it."""
    if name not in WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(importlib.import_module(f"{__name__}.{WHERE[name]}"), name)
    globals()[name] = value
    return value
