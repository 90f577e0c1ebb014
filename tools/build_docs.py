"""Write the reference pages from the code itself, then all pages as HTML into `site/`.

Reference pages (`docs/reference/`): the commands from their own help, the knowledge with its sources, the JSON
Schemas. A test compares them with what this script would write, so that they cannot go stale.
"""

from __future__ import annotations

import html
import json
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
REFERENCE = ROOT / "docs" / "reference"


def commands_page() -> str:
    """Return the command reference in Markdown."""
    import click
    import typer.main

    from beadwright.cli.app import app

    lines = ["# Commands", "", "Written from the commands' own help by `make docs`.", ""]
    root = typer.main.get_command(app)
    for path, command in _walk(root, ("beadwright",)):
        context = click.Context(command, info_name=" ".join(path))
        lines += [f"## `{' '.join(path)}`", "", (command.help or "").strip(), ""]
        for parameter in command.get_params(context):
            record = parameter.get_help_record(context)
            names = record[0] if record else (parameter.name or "").upper()
            said = record[1] if record else (getattr(parameter, "help", None) or "")
            if "--help" not in names:
                lines.append(f"* `{names}` {said}".rstrip())
        lines.append("")
    return "\n".join(lines).rstrip() + "\n"


def _walk(command: object, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], object]]:
    children = getattr(command, "commands", None)
    if not children:
        yield path, command
        return
    for name in sorted(children):
        yield from _walk(children[name], (*path, name))


def knowledge_page() -> str:
    """Return the causes, with what brings them to light and where the numbers come from, in Markdown."""
    from beadwright.knowledge.load import load_knowledge

    knowledge = load_knowledge()
    lines = ["# Causes, signs, checks", "", "Written from the knowledge tables by `make docs`.", ""]
    for cause in knowledge.causes.values():
        lines += [
            f"## {cause.name}",
            "",
            f"`{cause.id}` · {cause.family} · lives in the {cause.lives_in}",
            "",
            cause.text,
            "",
        ]
        shown = sorted(cause.signs.items(), key=lambda item: -item[1])
        lines += [f"* {knowledge.signs[sign].name}: {100 * chance:.0f} %" for sign, chance in shown]
        lines += [
            f"* leads to {knowledge.causes[to].name}: {100 * chance:.0f} %" for to, chance in cause.leads_to.items()
        ]
        source = knowledge.sources.get(cause.source)
        lines += ["", f"Source: {source.mark if source else cause.source}", ""]
    return "\n".join(lines).rstrip() + "\n"


def pages() -> dict[str, str]:
    """Return every generated page: path under docs/reference -> text."""
    from beadwright.workup import json_schema

    made = {"commands.md": commands_page(), "knowledge.md": knowledge_page()}
    for which in ("case", "diagnosis", "look", "there", "compare", "clock"):
        made[f"{which}.schema.json"] = json.dumps(json_schema(which), indent=2, ensure_ascii=False) + "\n"
    return made


def write_site(site: Path) -> None:
    """Render the Markdown pages as HTML, in the notebook's own style."""
    from markdown_it import MarkdownIt

    from beadwright.report.sheet import stylesheet

    reader = MarkdownIt("commonmark").enable("table")
    sources = [
        ROOT / "README.md",
        ROOT / "CHANGELOG.md",
        ROOT / "CONTRIBUTING.md",
        *sorted((ROOT / "docs").rglob("*.md")),
    ]
    for source in sources:
        target = site / source.relative_to(ROOT).with_suffix(".html")
        target.parent.mkdir(parents=True, exist_ok=True)
        body = reader.render(source.read_text("utf-8")).replace('.md"', '.html"')
        title = html.escape(source.stem)
        head = '<meta charset="utf-8"><meta name="viewport" content="width=device-width">'
        head += f"<title>{title} · beadwright</title><style>{stylesheet()}</style>"
        target.write_text(f'<!doctype html><html lang="en">{head}<main>{body}</main></html>\n', "utf-8")


def main() -> None:
    """Write the reference pages and the site."""
    REFERENCE.mkdir(parents=True, exist_ok=True)
    for name, text in pages().items():
        (REFERENCE / name).write_text(text, "utf-8")
    write_site(ROOT / "site")
    print(f"reference pages in {REFERENCE.relative_to(ROOT)}/, all pages as HTML in site/", file=sys.stderr)


if __name__ == "__main__":
    main()
