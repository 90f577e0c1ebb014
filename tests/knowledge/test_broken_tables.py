"""People add to the tables: their entries merge in, and a broken table is told by file, table and key."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from beadwright.errors import KnowledgeError
from beadwright.knowledge.cross_check import reached_signs
from beadwright.knowledge.load import Knowledge, load_knowledge
from beadwright.knowledge.model import Cause


def _load(folder: Path, **tables: str) -> Knowledge:
    """Write tables by file stem (`causes` goes to causes/mine.toml) and load them over the shipped ones."""
    for stem, text in tables.items():
        path = folder / "causes" / "mine.toml" if stem == "causes" else folder / f"{stem}.toml"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return load_knowledge(folder)


CAUSE = """
[cause.mine]
name = "Mine"
family = "motion"
lives_in = "printer"
prior = 0.01
text = "A cause of our own."
signs = { popping_or_steam = 0.5 }
remedies = ["my_remedy"]
"""
REMEDY = """
[remedy.my_remedy]
name = "Mine"
text = "Do it."
minutes = 1
cures = { mine = 0.5 }
"""
SIGN = """
[sign.my_sign]
name = "Mine"
text = "One sees it."
leak = 0.01
ask = "Is it there?"
"""


def test_people_add_their_own(tmp_path: Path) -> None:
    mine = _load(tmp_path, causes=CAUSE, remedies=REMEDY)
    assert mine.causes["mine"].signs == {"popping_or_steam": 0.5}
    assert len(mine.causes) == len(load_knowledge().causes) + 1
    assert "mine" not in load_knowledge().causes


def test_a_known_id_overrides_key_by_key_and_link_by_link(tmp_path: Path) -> None:
    change = "[cause.screw_wobble]\nprior = 0.05\nsigns = { stringing = 0.03 }\n"
    mine, shipped = (
        _load(tmp_path, causes=change).causes["screw_wobble"],
        load_knowledge().causes["screw_wobble"],
    )
    assert mine.prior == 0.05
    assert mine.signs == {**shipped.signs, "stringing": 0.03}
    assert mine.text == shipped.text


def test_an_empty_folder_changes_nothing(tmp_path: Path) -> None:
    assert load_knowledge(tmp_path) == load_knowledge()


def _cause(**changes: str) -> str:
    """Return the sample cause with lines replaced by key."""
    text = CAUSE
    for key, value in changes.items():
        line = f"{key} = {value}"
        text, count = re.subn(rf"^{key} = .*$", line, text, flags=re.MULTILINE)
        text = text if count else f"{text}{line}\n"
    return text


BROKEN = {
    "unknown sign": (
        {"causes": _cause(signs="{ nonesuch = 0.5 }"), "remedies": REMEDY},
        r"mine\.toml: \[cause\.mine\] signs: there is no sign 'nonesuch'",
    ),
    "unknown effect": (
        {"causes": _cause(leads_to="{ nonesuch = 0.5 }"), "remedies": REMEDY},
        r"\[cause\.mine\] leads_to: there is no cause 'nonesuch'",
    ),
    "unknown remedy": ({"causes": CAUSE}, r"\[cause\.mine\] remedies: there is no remedy 'my_remedy'"),
    "unknown caution": (
        {"causes": _cause(cautions='["nonesuch"]'), "remedies": REMEDY},
        r"\[cause\.mine\] cautions: there is no caution 'nonesuch'",
    ),
    "unknown rival": (
        {"causes": _cause(excludes='["nonesuch"]'), "remedies": REMEDY},
        r"\[cause\.mine\] excludes: there is no cause 'nonesuch'",
    ),
    "unknown source": (
        {"causes": _cause(source='"Nobody1999"'), "remedies": REMEDY},
        r"\[cause\.mine\] source: there is no source 'Nobody1999'",
    ),
    "circle": (
        {"causes": _cause(leads_to="{ mine = 0.5 }"), "remedies": REMEDY},
        r"links run in a circle: mine → mine",
    ),
    "long circle": (
        {"causes": "[cause.nozzle_strikes]\nleads_to = { overhang_curls = 0.5 }\n"},
        r"links run in a circle: .*nozzle_strikes",
    ),
    "circle of signs": (
        {"signs": '[sign.layer_shift]\nimplies = ["shift_diagonal"]\n'},
        r"links run in a circle: .*layer_shift",
    ),
    "no sign": (
        {"causes": _cause(signs="{}"), "remedies": REMEDY},
        r"\[cause\.mine\]: it brings about no sign",
    ),
    "no remedy": (
        {"causes": _cause(remedies="[]"), "remedies": REMEDY},
        r"\[cause\.mine\]: it has no remedy",
    ),
    "remedy that does not cure": (
        {"causes": _cause(remedies='["dry_spool"]'), "remedies": REMEDY},
        r"\[cause\.mine\] remedies: remedy 'dry_spool' does not cure it",
    ),
    "no check": (
        {
            "causes": _cause(signs="{ my_sign = 0.5 }"),
            "remedies": REMEDY,
            "signs": SIGN,
        },
        r"\[cause\.mine\]: no check bears on it",
    ),
    "mechanism with a prior": (
        {"causes": _cause(mechanism="true"), "remedies": REMEDY},
        r"\[cause\.mine\]: a mechanism has prior 0",
    ),
    "root without a prior": (
        {"causes": _cause(prior="0"), "remedies": REMEDY},
        r"\[cause\.mine\]: a mechanism has prior 0",
    ),
    "mechanism out of reach": (
        {"causes": _cause(mechanism="true", prior="0"), "remedies": REMEDY},
        r"\[cause\.mine\]: no cause leads to this mechanism",
    ),
    "two tests in one condition": (
        {
            "causes": _cause(context='[{ fact = "room_c", above = 1, below = 2, bits = 1, text = "x" }]'),
            "remedies": REMEDY,
        },
        r"\[cause\.mine\] context: the condition on 'room_c' has 2 tests",
    ),
    "unreached sign": ({"signs": SIGN}, r"signs\.toml: \[sign\.my_sign\]: no cause brings it about"),
    "no question": (
        {"signs": '[sign.stringing]\nask = "Strings."\n'},
        r"\[sign\.stringing\] ask: it has no question",
    ),
    "capitals in a phrase": (
        {"signs": '[sign.stringing]\nphrases = { en = ["Strings"] }\n'},
        r"\[sign\.stringing\] phrases\.en: 'Strings' is not in lower case",
    ),
    "check with both": (
        {"checks": "[check.bend_the_strand]\nyes = { mine = 0.5 }\n", "causes": CAUSE, "remedies": REMEDY},
        r"\[check\.bend_the_strand\]: a check either settles one 'sign'",
    ),
    "remedy for nothing": (
        {"remedies": '[remedy.idle]\nname = "Idle"\ntext = "Wait."\nminutes = 1\n'},
        r"remedies\.toml: \[remedy\.idle\]: it cures nothing",
    ),
    "change without a number": (
        {"remedies": '[remedy.slow_down]\nchange = [{ fact = "speed_mm_s" }]\n'},
        r"\[remedy\.slow_down\] change\.speed_mm_s: a change has one way",
    ),
    "probability above one": (
        {"causes": _cause(prior="1.5"), "remedies": REMEDY},
        r"mine\.toml: \[cause\.mine\] prior: .*\(found 1\.5\)",
    ),
    "unknown key": (
        {"causes": _cause(colour='"red"'), "remedies": REMEDY},
        r"\[cause\.mine\] colour: .* Known keys are",
    ),
    "bad id": ({"remedies": REMEDY.replace("remedy.my_remedy", "remedy.My_Remedy")}, r"My_Remedy\] id: "),
    "no TOML": ({"checks": "[check.\n"}, r"checks\.toml: not readable as TOML"),
    "wrong table": ({"checks": '[cheque.one]\nname = "x"\n'}, r"checks\.toml: 'cheque' is not expected here"),
    "value for a table": ({"checks": "[check]\none = 1\n"}, r"check\.one is a value, not a table"),
}


@pytest.mark.parametrize("fault", BROKEN)
def test_a_broken_table_is_told_by_file_table_and_key(fault: str, tmp_path: Path) -> None:
    tables, message = BROKEN[fault]
    with pytest.raises(KnowledgeError, match=message) as told:
        _load(tmp_path, **tables)
    assert told.value.where
    assert told.value.fix


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(KnowledgeError, match="no such folder"):
        load_knowledge(tmp_path / "absent")


def test_a_folder_in_place_of_a_table_is_told(tmp_path: Path) -> None:
    (tmp_path / "signs.toml").mkdir()
    with pytest.raises(KnowledgeError, match=r"signs\.toml: cannot be opened"):
        load_knowledge(tmp_path)


def test_bytes_that_are_no_text_are_told(tmp_path: Path) -> None:
    (tmp_path / "signs.toml").write_bytes(b"\xff\xfe[sign]")
    with pytest.raises(KnowledgeError, match=r"signs\.toml: not readable as TOML"):
        load_knowledge(tmp_path)


def test_a_stray_file_is_told_rather_than_ignored(tmp_path: Path) -> None:
    (tmp_path / "sign.toml").write_text("", encoding="utf-8")
    with pytest.raises(KnowledgeError, match=r"sign\.toml: no table of that name is read"):
        load_knowledge(tmp_path)


def test_one_id_in_two_files_of_one_folder_is_told(tmp_path: Path) -> None:
    (tmp_path / "causes").mkdir()
    (tmp_path / "causes" / "again.toml").write_text(CAUSE, encoding="utf-8")
    with pytest.raises(KnowledgeError, match=r"\[cause\.mine\] stands already in .*again\.toml"):
        _load(tmp_path, causes=CAUSE, remedies=REMEDY)


def test_a_chain_reaches_its_signs() -> None:
    """first → second → a sign."""
    first = Cause(id="first", name="", family="motion", lives_in="printer", prior=0.1, text="", leads_to={"second": 1})
    second = Cause(id="second", name="", family="motion", lives_in="printer", prior=0.1, text="", signs={"s": 1})
    assert reached_signs({"first": first, "second": second}, "first") == {"s"}
