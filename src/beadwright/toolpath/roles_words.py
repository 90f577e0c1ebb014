"""What comments say a bead is for, read by the trade's words alone, in several languages.

No program's tags are known here. A comment counts when words in it name a role: "outer wall", "Füllung", "support".
A comment may leave several roles open ("infill", "wall"); it is therefore a set of roles. `name = value` comments are
settings, not marks, unless the value alone names the role ("kind: bridge"). Word lists are common practice, no source.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from beadwright.toolpath.roles_model import Role

LONGEST = 60  # characters; a sentence is no mark
MOST_WORDS = 6
_PARTED = re.compile(r"^(?P<name>[^=:]{1,40})\s*[=:]\s*(?P<value>.*)$")
_DIGITS = re.compile(r"\d+")
_WORD = re.compile(r"[^\W\d_]+")
_CAMEL = re.compile(r"(?<=[a-zß-ÿ])(?=[A-Z])")

# stems, folded: lower case, no accents; a word counts when it begins with the stem, '=' asks for the whole word
_STEMS: dict[str, tuple[str, ...]] = {
    "support": ("support", "stutz", "stuetz", "soport", "supporto", "podpor", "steun", "stod", "=raft"),
    "infill": (
        "infill",
        "fill",
        "full",
        "fuell",
        "remplissage",
        "relleno",
        "riempimento",
        "vulling",
        "raster",
        "wypeln",
    ),
    "bridge": ("bridg", "brucke", "bruecke", "pont", "puente", "=ponte", "most", "=brug"),
    "skirt": ("skirt", "schurze", "schuerze", "jupe", "falda", "draft", "windschutz", "prim"),
    "brim": ("brim", "=rand", "bordure", "borde", "kraempe"),
    "raft": ("raft", "=floss", "radeau", "balsa", "zattera"),
    "wall": ("wall", "perimet", "contour", "shell", "kontur", "=wand", "wande", "waende", "aussenwand", "innenwand")
    + ("paroi", "contorno", "pared", "parete", "outline", "=umriss"),
    "outer": ("outer", "outside", "extern", "exterior", "exterieur", "aussen", "außen", "estern", "outline"),
    "inner": ("inner", "inside", "intern", "interior", "interieur", "innen"),
    "solid": ("solid", "massiv", "plein", "solido", "dicht", "skin"),
    "top": ("=top", "upper", "ober", "superior", "superieur", "roof", "surface"),
    "bottom": ("bottom", "lower", "boden", "unter", "inferior", "inferieur", "floor"),
    "sparse": ("sparse", "spars", "locker", "hollow"),
    "gap": ("gap", "lucken", "luecken"),
    "thin": ("thin",),
    "wipe": ("wipe", "purg", "prime", "spul", "spuel", "reinig"),
    "tower": ("tower", "turm", "=tour", "torre", "block", "pillar", "wieza"),
    "interface": ("interface",),
}


def roles_named(text: str) -> frozenset[Role]:
    """Return the roles a comment leaves open, the likeliest of which `default` tells; empty where it names none.

    >>> sorted(role.name for role in roles_named("laying outer contour"))
    ['OUTER']
    >>> sorted(role.name for role in roles_named("infill"))
    ['BRIDGE', 'SOLID', 'SPARSE']
    >>> roles_named("infill = 20 %")
    frozenset()
    """
    return _named(_DIGITS.sub("0", text)) if len(text) <= LONGEST else frozenset()


@lru_cache(maxsize=4096)
def _named(text: str) -> frozenset[Role]:
    parted = _PARTED.match(text)
    if parted:
        if re.search(r"\d", parted["value"]) or _concepts(parted["name"]):
            return frozenset()
        text = parted["value"]
    if len(_WORD.findall(text)) > MOST_WORDS:
        return frozenset()
    return _roles(_concepts(text))


def default(roles: frozenset[Role]) -> Role:
    """Return which of several roles a comment means when the beads do not tell."""
    for role in (Role.INNER, Role.SPARSE, Role.SOLID, Role.OUTER):
        if role in roles:
            return role
    return min(roles)


def _fold(text: str) -> str:
    spaced = _CAMEL.sub(" ", text)
    plain = unicodedata.normalize("NFKD", spaced)
    return "".join(c for c in plain if not unicodedata.combining(c)).lower()


def _concepts(text: str) -> set[str]:
    words = _WORD.findall(_fold(text))
    found = set()
    for concept, stems in _STEMS.items():
        for stem in stems:
            if any(word == stem[1:] if stem[0] == "=" else word.startswith(stem) for word in words):
                found.add(concept)
                break
    return found


def _roles(said: set[str]) -> frozenset[Role]:
    """Return the roles that concepts leave open; the more special word goes first."""
    if "tower" in said or {"wipe", "tower"} <= said:
        return frozenset({Role.WIPE_TOWER})
    for concept, role in (("raft", Role.RAFT), ("support", Role.SUPPORT), ("skirt", Role.SKIRT), ("brim", Role.BRIM)):
        if concept in said:
            return frozenset({role})
    if "bridge" in said:
        return frozenset({Role.BRIDGE})
    if "wall" in said and "thin" not in said:
        return frozenset(_walls(said))
    if said & {"top", "bottom", "solid"}:
        return frozenset({Role.SOLID})
    if "gap" in said:
        return frozenset({Role.SOLID, Role.INNER})
    if "sparse" in said:
        return frozenset({Role.SPARSE})
    if "infill" in said:
        return frozenset({Role.SPARSE} if "inner" in said else {Role.SPARSE, Role.SOLID, Role.BRIDGE})
    if said & {"outer", "inner"} and not said & {"interface"}:
        return frozenset(_walls(said))
    return frozenset()


def _walls(said: set[str]) -> set[Role]:
    if "outer" in said:
        return {Role.OUTER}
    return {Role.INNER} if "inner" in said else {Role.INNER, Role.OUTER}
