"""A small invented set of tables, enough to run a whole diagnosis."""

from __future__ import annotations

from beadwright.diagnosis.engine import rank
from beadwright.knowledge.load import Knowledge
from beadwright.knowledge.model import Caution, Check, Condition, Phrases, Sign
from diagnosis.small_networks import cause, table


def sign(name: str, leak: float = 0.03, implies: tuple[str, ...] = ()) -> Sign:
    return Sign(
        id=name, name=name.replace("_", " ").capitalize(), text="invented", leak=leak,
        ask=f"Is there {name}?", phrases=Phrases(), implies=implies,
    )  # fmt: skip


def check(name: str, **more) -> Check:
    given = {"name": name, "text": "invented", "effort": "look", "minutes": 2} | more
    return Check(id=name, **given)


def tables() -> Knowledge:
    low = Condition(fact="nozzle_temp_c", below=205.0, bits=1.5, else_bits=-1.0, text="the nozzle is set low")
    causes = table(
        cause("cold", 0.05, signs={"gaps": 0.7, "clicks": 0.4}, leads_to={"proud": 0.6}, cautions=("hot",),
              context=(low,)),
        cause("proud", mechanism=True, prior=0.0, signs={"proud_lines": 0.8},
              leads_to={"one_motor_lost_steps": 0.4}),
        cause("one_motor_lost_steps", 0.02, signs={"layer_shift": 0.9, "shift_diagonal": 0.7}),
        cause("part_knocked", 0.01, lives_in="handling", signs={"layer_shift": 0.6}),
        cause("damp", 0.08, lives_in="filament", signs={"strings": 0.8, "pops": 0.5}),
        cause("short_pull", 0.05, lives_in="file", signs={"strings": 0.8}),
        cause("frayed_wire", 0.01, signs={"stops": 0.6}, cautions=("mains",)),
    )  # fmt: skip
    signs = [
        sign("layer_shift", 0.01), sign("shift_diagonal", 0.003, ("layer_shift",)), sign("gaps"),
        sign("clicks"), sign("proud_lines", 0.01), sign("strings", 0.05), sign("pops", 0.01),
        sign("stops", 0.01),
    ]  # fmt: skip
    checks = [
        check("listen", sign="pops", effort="ask", minutes=1), check("feel_lines", sign="proud_lines"),
        check("new_spool", yes={"damp": 0.9}, leak=0.1, effort="reprint", minutes=60),
        check("read_temperature", yes={"cold": 0.9}, leak=0.02, facts=("nozzle_temp_c",)),
        check("look_for_gaps", sign="gaps"),
    ]  # fmt: skip
    cautions = {
        "hot": Caution(id="hot", level="care", text="The nozzle is hot."),
        "mains": Caution(id="mains", level="stop", text="Unplug it first."),
    }
    return Knowledge(causes, {s.id: s for s in signs}, {c.id: c for c in checks}, {}, cautions, {}, {})


def diagnosed(knowledge, **given):
    """The diagnosis alone, without the posterior behind it."""
    return rank(knowledge, **given)[0]
