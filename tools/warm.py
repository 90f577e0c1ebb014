"""Compile every kernel and prepare the story's vectors once, saying so, so that the first real run is quick."""

from beadwright.cli.options import first_use_note
from beadwright.exhibits.place import parse_place
from beadwright.exhibits.story import read_story
from beadwright.exhibits.there import what_happens
from beadwright.exhibits.toolpath_file import look
from beadwright.facts import Fact, Facts, Origin
from beadwright.knowledge.load import load_knowledge
from beadwright.knowledge.material_table import load_materials

RING = "G1 X20 Y0 E1 F1800\nG1 X20 Y20 E1\nG1 X0 Y20 E1\nG1 X0 Y0 E1\nG1 E-1\nG0 X10 Y10\nG1 E1\n"
SQUARE = "G28\nM104 S210\nM83\n" + "".join(f"G1 Z{z}\n{RING}" for z in (1, 2, 3))


def main() -> None:
    """Look at a square, ask what happens in it, and read a sentence."""
    first_use_note()
    pla = Facts([Fact("polymer", "pla", Origin.DEFAULT)])
    square = look(SQUARE.encode(), name="square", facts=pla, materials=load_materials(), heat=True)
    what_happens(square, parse_place("layer:2"))
    read_story("something about it looks wrong and nobody here has a word for that", load_knowledge())


if __name__ == "__main__":
    main()
