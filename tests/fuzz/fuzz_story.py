"""Fuzz target for the story and for pasted settings: any text is read.

Run it with `python tests/fuzz/fuzz_story.py -max_total_time=60` where atheris is installed.
"""

from __future__ import annotations

import sys

from beadwright.exhibits.settings_text import read_settings_text
from beadwright.exhibits.story import read_story
from beadwright.knowledge.load import load_knowledge


def one_input(data: bytes) -> None:
    """Read bytes as a story and as settings; phrases must be where they are said to be."""
    text = data.decode("utf-8", "replace")
    reading = read_story(text, load_knowledge(), vectors=False)
    for sign in reading.signs:
        if text[slice(*sign.span)] != sign.phrase:
            raise AssertionError(f"{sign} is not at its place")
    read_settings_text(text)


def main() -> None:
    import atheris

    atheris.instrument_all()
    atheris.Setup(sys.argv, one_input)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
