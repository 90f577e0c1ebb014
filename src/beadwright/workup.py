"""From a case to its answer: read the exhibits, gather facts, audit, rank, plan. Both faces call only this."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, Protocol

from beadwright import __version__
from beadwright.audit.findings import Audit
from beadwright.audit.run import run_audit
from beadwright.case.model import Case
from beadwright.diagnosis.engine import rank
from beadwright.diagnosis.inputs import Answer, Hint, SignObservation, Trial
from beadwright.diagnosis.result import Diagnosis
from beadwright.errors import CaseError, ExhibitError, InputError
from beadwright.exhibits.kinds import HEAD_BYTES, guess_kind
from beadwright.exhibits.story import StoryReading, read_story
from beadwright.facts import Fact, Facts
from beadwright.knowledge.load import Knowledge, load_knowledge
from beadwright.knowledge.material_table import load_materials
from beadwright.knowledge.terms import load_terms
from beadwright.remedy.plan import plan_steps

if TYPE_CHECKING:
    import numpy as np

    from beadwright.diagnosis.clock_maps import PrintClocks
    from beadwright.diagnosis.items import Likelihood
    from beadwright.exhibits.toolpath_file import LookResult
    from beadwright.knowledge.material_shapes import Material

Progress = Callable[[str, float], None]
Draw = Callable[["LookResult"], tuple["Picture", ...]]
LookKey = tuple[str, frozenset[Fact]]  # content and what was known when it was read
MOST_TEXT = 2_000_000
_Sorted = tuple["ExhibitFile", str, str]  # the file, its kind, and why it cannot be opened


@dataclass(frozen=True)
class ExhibitFile:
    """A thing handed in, as a file on the disk. `sha256` when known lets a reading be kept by content."""

    name: str
    path: Path
    kind: str | None = None
    note: str = ""
    sha256: str | None = None


@dataclass(frozen=True)
class ExhibitSeen:
    """What became of an exhibit: rows to show, and a remark where something could not be used."""

    name: str
    kind: str
    note: str = ""
    rows: tuple[tuple[str, str], ...] = ()
    remark: str = ""


@dataclass(frozen=True)
class LayerColumns:
    """The strip's columns, one entry a layer."""

    z_mm: np.ndarray  # (k,) tops
    seconds: np.ndarray
    flow_mm3_s: np.ndarray  # 95th percentile by time
    speed_mm_s: np.ndarray  # 95th percentile by time
    nozzle_c: np.ndarray
    fan_percent: np.ndarray
    filament_mm: np.ndarray  # new filament in each layer


@dataclass(frozen=True)
class Scale:
    """What the colours of a picture mean: a span of a quantity, or categories as (label, colour)."""

    title: str
    unit: str
    low: float = 0.0
    high: float = 0.0
    below: bool = False  # some values lie beyond the ends and take their colours
    above: bool = False
    categories: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Picture:
    """The print seen through from one side, as a PNG that is clear where there is no plastic."""

    view: str
    axes: tuple[str, str]  # across and up
    png: bytes
    size: tuple[int, int]  # pixels: columns, rows
    box: tuple[float, float, float, float]  # mm: left, bottom, right, top
    scale: Scale
    beyond: float = 0.0  # share of the plastic that lies past the edges


@dataclass(frozen=True)
class ToolpathSeen:
    """What is kept of a toolpath once read: the columns of moves are let go."""

    name: str
    facts: Facts  # those it was read with, and those measured in it
    audit: Audit
    layers: LayerColumns
    rows: tuple[tuple[str, str], ...]
    summary: str
    remark: str
    pictures: tuple[Picture, ...] = ()  # drawn only for a page
    clocks: PrintClocks | None = None  # by layer, for marks at heights


class Readings(Protocol):
    """Where readings of toolpaths are kept between work-ups."""

    def get(self, key: LookKey) -> ToolpathSeen | None: ...
    def put(self, key: LookKey, value: ToolpathSeen) -> ToolpathSeen: ...


@dataclass(frozen=True)
class Workup:
    """A case, everything read from it, and the answer."""

    case: Case
    words: str  # the story, with any text handed in as a file
    exhibits: tuple[ExhibitSeen, ...]
    looks: tuple[ToolpathSeen, ...]
    story: StoryReading | None
    facts: Facts
    audit: Audit
    diagnosis: Diagnosis
    knowledge: Knowledge
    labels: dict[str, tuple[str, str]]  # fact -> label and unit
    material_name: str
    mark_heights: tuple[float, ...]  # mm, where the fault was seen
    files: tuple[str, ...]  # content or path of each exhibit

    @property
    def strip_key(self) -> tuple[tuple[str, ...], tuple[float, ...]]:
        """What the strips depend on."""
        return self.files, self.mark_heights

    @property
    def colophon(self) -> str:
        """What made this sheet."""
        return f"beadwright {__version__}. Probabilities are weighed evidence, not certainties."


def case_from_command(
    files: Sequence[Path], *, story: str | None, material: str | None, printer: str | None
) -> tuple[Case, tuple[ExhibitFile, ...]]:
    """Return the case that a command line states, and its exhibits as files.

    A case file among `files` comes first; what is typed beside it is added or, for the story, put in its place.
    """
    from beadwright.case.quick import case_from_arguments
    from beadwright.case.read import read_case

    case_files = [file for file in files if file.suffix.lower() in (".toml", ".json")]
    others = [file for file in files if file not in case_files]
    if len(case_files) > 1:
        raise CaseError(f"{len(case_files)} case files at once", fix="give one case file, and exhibits beside it")
    if not case_files:
        if not files and not (story or "").strip():
            raise CaseError(
                "there is nothing to diagnose", fix="give a case file, an exhibit, or --story with the words"
            )
        typed = case_from_arguments((), story=story or "", material=material, printer=printer)
        return typed, files_named(others)
    case = read_case(case_files[0], knowledge=load_knowledge())
    typed = case_from_arguments((), story=story or "", material=material, printer=printer)
    return _merged(case, typed), exhibits_beside(case, case_files[0].parent) + files_named(others)


def _merged(case: Case, typed: Case) -> Case:
    said = {"story": typed.case.story} if typed.case.story else {}
    return case.model_copy(update={
        "case": case.case.model_copy(update=said),
        "printer": case.printer.model_copy(update=typed.printer.model_dump(exclude_none=True)),
        "material": case.material.model_copy(update=typed.material.model_dump(exclude_none=True)),
    })  # fmt: skip


def files_named(paths: Sequence[Path]) -> tuple[ExhibitFile, ...]:
    """Return plain files as exhibits."""
    return tuple(ExhibitFile(path.name, path) for path in paths)


def exhibits_beside(case: Case, folder: Path) -> tuple[ExhibitFile, ...]:
    """Return the exhibits that a case file names, from the folder it lies in."""
    return tuple(ExhibitFile(line.file, folder / line.file, line.kind, line.note) for line in case.exhibit)


def work_up(
    case: Case,
    files: Sequence[ExhibitFile] = (),
    *,
    knowledge: Knowledge | None = None,
    readings: Readings | None = None,
    progress: Progress | None = None,
    draw: Draw | None = None,
) -> Workup:
    """Work a case up. Exhibits that cannot be read are said so in the answer, and the rest goes on.

    `draw` makes the pictures that a page shows of a toolpath; a terminal needs none.
    """
    known = knowledge or load_knowledge()
    materials = load_materials()
    stated = Facts(case.facts())
    sorted_files = _sorted_by_kind(files)
    words = _words_of(case, sorted_files)
    story = read_story(words, known) if words else None
    facts = stated.also(story.facts if story else ())
    looks, seen, claims, unread = _read_exhibits(sorted_files, facts, materials, readings, progress, draw)
    facts = facts.also(claims)
    audit, facts = _audited(looks, facts, materials)
    timed = _on_clocks(facts, looks)
    diagnosis = _diagnose(case, facts, story, audit, known, materials, [*case.unread(), *unread], timed)
    labels = {term.id: (term.name, term.unit) for term in load_terms().values()}
    polymer = facts.text("polymer")
    return Workup(
        case, words, tuple(seen), tuple(looks), story, facts, audit, diagnosis, known, labels,
        material_name=materials[polymer].abbreviation if polymer in materials else "",
        mark_heights=_mark_heights(facts),
        files=tuple(file.sha256 or str(file.path) for file in files),
    )  # fmt: skip


def _mark_heights(facts: Facts) -> tuple[float, ...]:
    heights: list[float] = []
    for name in ("shift_at_mm", "onset_z_mm", "marks_mm"):
        fact = facts.best(name)
        if fact is not None and isinstance(fact.value, tuple):
            heights += [float(value) for value in fact.value]
        elif fact is not None and not isinstance(fact.value, str):
            heights.append(fact.number)
    return tuple(heights)


def _words_of(case: Case, files: Sequence[_Sorted]) -> str:
    """The case's story, and after it any text handed in as a file."""
    texts = [case.case.story]
    texts += [_text_of(file) for file, kind, problem in files if kind == "story" and not problem]
    return "\n\n".join(text for text in texts if text.strip())


def _text_of(file: ExhibitFile) -> str:
    with file.path.open("rb") as stream:
        return stream.read(MOST_TEXT).decode("utf-8-sig", "replace")


def _sorted_by_kind(files: Sequence[ExhibitFile]) -> list[_Sorted]:
    """Say of each exhibit what it is, or why it cannot be opened."""
    found: list[_Sorted] = []
    for file in files:
        try:
            found.append((file, file.kind or _kind_of(file), ""))
        except ExhibitError as failure:
            found.append((file, "unknown", str(failure)))
    return found


def _read_exhibits(
    files: Sequence[_Sorted], facts: Facts, materials: dict[str, Material],
    readings: Readings | None, progress: Progress | None, draw: Draw | None,
) -> tuple[list[ToolpathSeen], list[ExhibitSeen], list[Fact], list[str]]:  # fmt: skip
    looks: list[ToolpathSeen] = []
    seen: list[ExhibitSeen] = []
    claims: list[Fact] = []
    unread: list[str] = []
    for number, (file, kind, problem) in enumerate(files):
        if progress:
            progress(f"reading {file.name}", number / len(files))
        try:
            if problem:
                raise ExhibitError(problem)
            if kind == "toolpath":
                look = _look_at(file, facts, materials, readings, draw)
                looks.append(look)
                seen.append(ExhibitSeen(file.name, kind, file.note, look.rows, look.remark))
            elif kind == "settings_text":
                shown, found, missed = _settings_of(file)
                claims += found
                unread += missed
                seen.append(shown)
            elif kind == "story":
                seen.append(ExhibitSeen(file.name, kind, file.note, remark="read with the story"))
            else:
                remark = _not_read(kind)
                unread.append(f"{file.name}: {remark}")
                seen.append(ExhibitSeen(file.name, kind, file.note, remark=remark))
        except InputError as failure:
            unread.append(str(failure))
            seen.append(ExhibitSeen(file.name, kind, file.note, remark=str(failure)))
    return looks, seen, claims, unread


def _not_read(kind: str) -> str:
    if kind == "unknown":
        return "nothing here that this version can read; kept with the case"
    return f"a {kind.replace('_', ' ')} is kept with the case; this version does not measure it"


def _kind_of(file: ExhibitFile) -> str:
    try:
        with file.path.open("rb") as stream:
            return guess_kind(file.name, stream.read(HEAD_BYTES))
    except OSError as failure:
        raise ExhibitError(f"cannot be opened ({failure.strerror})", where=file.name,
                           fix="See that it is there and may be read") from failure  # fmt: skip


def _settings_of(file: ExhibitFile) -> tuple[ExhibitSeen, list[Fact], list[str]]:
    from beadwright.exhibits.settings_text import read_settings_text

    reading = read_settings_text(_text_of(file), file.name)
    rows = tuple((load_terms()[fact.name].name, f"{fact.value:g}" if isinstance(fact.value, float) else str(fact.value))
                 for fact in reading.facts)  # fmt: skip
    remark = f"{len(reading.not_understood)} lines were not understood" if reading.not_understood else ""
    missed = [f"{file.name}: {line}" for line in reading.not_understood]
    return ExhibitSeen(file.name, "settings_text", file.note, rows, remark), list(reading.facts), missed


def _look_at(
    file: ExhibitFile, facts: Facts, materials: dict[str, Material], readings: Readings | None, draw: Draw | None
) -> ToolpathSeen:
    key = (file.sha256 or "", frozenset(facts))
    kept = readings.get(key) if readings and file.sha256 else None
    if kept is not None:
        return kept
    from beadwright.exhibits.toolpath_file import look

    result = look(file.path, name=file.name, facts=facts, materials=materials)
    seen = toolpath_seen(file.name, result, draw(result) if draw else ())
    return readings.put(key, seen) if readings and file.sha256 else seen


def toolpath_seen(name: str, result: LookResult, pictures: tuple[Picture, ...] = ()) -> ToolpathSeen:
    """Keep of a look what a case sheet needs, and let the columns of moves go."""
    look, table = result.look, result.measured.per_layer
    minutes = look.seconds / 60
    time = f"{int(minutes // 60)} h {minutes % 60:.0f} min" if minutes >= 60 else f"{minutes:.0f} min"
    box = look.bead_box
    size = " × ".join(f"{high - low:.1f}" for low, high in zip(box[0], box[1], strict=True)) if box else ""
    rows = (
        ("beads lie in", f"{size} mm" if size else "no beads"),
        ("layers", f"{look.layers.count}, typically {look.layers.typical_mm or 0:g} mm"),
        ("filament", f"{look.filament_mm / 1000:.2f} m, {look.mass_g:.1f} g"),
        ("time", f"{time} by motion plan, heating not counted"),
    )
    remark = f"{len(look.problems)} things in the file were not understood or look wrong" if look.problems else ""
    columns = LayerColumns(
        table.z_mm, table.seconds, table.flow_p95, table.speed_p95, table.nozzle_c, table.fan_percent, table.filament_mm
    )
    summary = f"{look.layers.count} layers, {time}."
    from beadwright.diagnosis.clock_maps import PrintClocks

    return ToolpathSeen(
        name, result.facts, result.audit, columns, rows, summary, remark, pictures, PrintClocks.of(result.timeline)
    )


def _audited(looks: Sequence[ToolpathSeen], facts: Facts, materials: dict[str, Material]) -> tuple[Audit, Facts]:
    """Return the first toolpath's audit, which knew the case's facts; without one, the rules asked of the claims."""
    if looks:
        known = set(facts)
        return looks[0].audit, facts.also(fact for fact in looks[0].facts if fact not in known)
    polymer = facts.text("polymer")
    return run_audit(facts, materials.get(polymer) if polymer else None), facts


def _on_clocks(facts: Facts, looks: Sequence[ToolpathSeen]) -> list[Likelihood]:
    """Hold measured marks against the clocks of the first toolpath."""
    if not looks or "marks_mm" not in facts:
        return []
    from beadwright.diagnosis.clock_evidence import clock_items

    return clock_items(facts, looks[0].clocks)


def _diagnose(
    case: Case, facts: Facts, story: StoryReading | None, audit: Audit, knowledge: Knowledge,
    materials: dict[str, Material], unread: list[str], timed: Sequence[Likelihood] = (),
) -> Diagnosis:  # fmt: skip
    told = story or StoryReading()
    ranking, _ = rank(
        knowledge,
        facts=facts,
        signs=_signs(case, told),
        answers=tuple(Answer(line.check, line.result) for line in case.answer),
        trials=tuple(Trial(**line.model_dump()) for line in case.trial),
        audit=audit,
        silence=story is not None,
        unread=(*unread, *told.notes),
        theories=tuple(theory.text for theory in told.theories),
        told_like=tuple(Hint(one.cause, one.bits, one.piece) for one in told.told_like),
        measured=timed,
    )
    plan = plan_steps(ranking.causes, facts, knowledge, materials)
    return ranking.model_copy(update={"plan": plan})


def _signs(case: Case, story: StoryReading) -> tuple[SignObservation, ...]:
    """What the case states goes before what the story was read to say: a person confirmed the one."""
    stated = {line.id: SignObservation(line.id, line.present, line.confidence) for line in case.sign}
    told = {
        sign.id: SignObservation(sign.id, sign.present, sign.confidence, "the story", sign.phrase)
        for sign in story.signs
    }
    return tuple((told | stated).values())


def json_schema(which: Literal["case", "diagnosis", "look", "there", "compare", "clock"]) -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of a case file, a diagnosis, a look, what happens there or a comparison."""
    if which == "case":
        from beadwright.case.schema import case_schema

        return case_schema()
    if which == "look":
        from beadwright.exhibits.look import look_schema

        return look_schema()
    if which == "there":
        from beadwright.exhibits.there import there_schema

        return there_schema()
    if which == "compare":
        from beadwright.exhibits.compared import compare_schema

        return compare_schema()
    if which == "clock":
        from beadwright.diagnosis.clock_answer import clock_schema

        return clock_schema()
    from beadwright.diagnosis.result import Diagnosis

    schema = Diagnosis.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
