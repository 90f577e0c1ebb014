"""Compile every kernel and prepare the story's vectors once, saying so, so that the first real run is quick."""

from beadwright.cli.say import first_use_note
from beadwright.exhibits.story import read_story
from beadwright.exhibits.toolpath_file import look
from beadwright.knowledge.load import load_knowledge

RING = "G1 X20 Y0 E1 F1800\nG1 X20 Y20 E1\nG1 X0 Y20 E1\nG1 X0 Y0 E1\nG1 E-1\nG0 X10 Y10\nG1 E1\n"
SQUARE = "G28\nM104 S210\nM83\n" + "".join(f"G1 Z{z}\n{RING}" for z in (1, 2, 3))


def main() -> None:
    """Look at a square and read a sentence."""
    first_use_note()
    look(SQUARE.encode(), name="square")
    read_story("something about it looks wrong and nobody here has a word for that", load_knowledge())


if __name__ == "__main__":
    main()
