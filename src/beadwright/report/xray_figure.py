"""Pictures of the print as figures: axes in mm, the legend of the colours, lines where a fault was seen."""

from __future__ import annotations

from base64 import b64encode
from typing import TYPE_CHECKING

import numpy as np

from beadwright.report.axis import grouped, ticks
from beadwright.report.page import Strip
from beadwright.report.png import png
from beadwright.report.scale_colours import cividis
from beadwright.report.svg import halo, line, number, svg, text, with_own_ink

if TYPE_CHECKING:
    from collections.abc import Sequence

    from beadwright.workup import Picture, Scale, Workup

LEFT, RIGHT, ABOVE, BELOW = 42.0, 10.0, 22.0, 34.0  # px round the picture, for axes and headings
LEGEND_WIDTH, LEGEND_HEIGHT, BAR_WIDTH = 358.0, 42.0, 190.0
TELLING_SHARE = 0.001  # of the plastic
LABEL_ROOM = 13.0  # px between labels of marks
FROM = {"front": "from the front", "side": "from the right", "top": "from above"}


def figures_of(workup: Workup) -> tuple[Strip, ...]:
    """Return a figure of each toolpath of the case that pictures were drawn of."""
    marks = workup.mark_heights
    return tuple(
        Strip(pair_html(seen.pictures, marks), caption(seen.name, seen.pictures, marks), "xray")
        for seen in workup.looks
        if seen.pictures
    )


def caption(name: str, pictures: Sequence[Picture], marks: Sequence[float]) -> str:
    """Say in plain words what the pictures show."""
    views = " and ".join(_from(picture) for picture in pictures)
    scale = pictures[0].scale
    shown = f"{name}, seen through {views}. Colour shows {scale.title}; the paler, the less plastic lies behind it."
    if max(picture.beyond for picture in pictures) > TELLING_SHARE:
        shown += " What the first layer lays farther out is cut off."
    return shown + (marks_words(marks) if pictures[0].axes[1] == "z" else "")


def marks_words(marks: Sequence[float]) -> str:
    """Say what the lines stand for."""
    return f" {'Line' if len(marks) == 1 else 'Lines'}: {_heights(marks)}, where the fault was seen." if marks else ""


def _heights(marks: Sequence[float]) -> str:
    some = [f"{height:g} mm" for height in marks[:6]]
    return ", ".join(some) + (f" and {len(marks) - 6} more" if len(marks) > 6 else "")


def _from(picture: Picture) -> str:
    return FROM.get(picture.view, f"{picture.view} from above")


def pair_html(pictures: Sequence[Picture], marks: Sequence[float]) -> str:
    """Return the pictures beside one another, the legend below, as markup for a page."""
    views = "".join(svg(*view_group(picture, marks), label=alt(picture, marks)) for picture in pictures)
    legend = svg(legend_group(pictures[0].scale), LEGEND_WIDTH, legend_height(pictures[0].scale), label="")
    return f'<div class="views">{views}</div>{legend}'


def alone(picture: Picture, marks: Sequence[float] = (), title: str = "") -> str:
    """Return one picture with its legend as an SVG document of its own, light or dark as the viewer prefers."""
    body, width, height = view_group(picture, marks)
    pad, head = 14.0, 24.0 if title else 0.0
    wide = max(width, LEGEND_WIDTH) + 2 * pad
    tall = head + height + legend_height(picture.scale) + 2 * pad
    heading = text(pad + LEFT, pad + 12, _shortened(title, int(wide / 8)), size=13, weight="600") if title else ""
    inside = (
        f'<rect width="{number(wide)}" height="{number(tall)}" fill="var(--paper)"/>{heading}'
        f'<g transform="translate({number(pad)} {number(pad + head)})">{body}</g>'
        f'<g transform="translate({number(pad)} {number(pad + head + height)})">{legend_group(picture.scale)}</g>'
    )
    return with_own_ink(
        svg(inside, wide, tall, label=f"{title}: {alt(picture, marks)}" if title else alt(picture, marks))
    )


def alone_png(picture: Picture, marks: Sequence[float] = (), title: str = "") -> bytes:
    """Return the same as a PNG on light paper, two pixels to one of the figure's."""
    import vl_convert

    drawn: bytes = vl_convert.svg_to_png(alone(picture, marks, title), scale=2)
    return drawn


def alt(picture: Picture, marks: Sequence[float] = ()) -> str:
    """Describe a picture for someone who does not see it."""
    left, bottom, right, top = picture.box
    scale, up = picture.scale, picture.axes[1]
    size = f"{right - left:.0f} mm wide and {top - bottom:.0f} mm {'tall' if up == 'z' else 'deep'}"
    if scale.categories:
        means = ", ".join(label for label, _ in scale.categories)
    else:
        means = f"{_value(scale, scale.low)} to {_value(scale, scale.high)} {scale.unit}"
    words = f"The print seen through {_from(picture)}, {size}, coloured by {scale.title}: {means}."
    return words + (f" Lines at {_heights(marks)}." if marks and up == "z" else "")


# groups of marks --------------------------------------------------------------------------------------
def view_group(picture: Picture, marks: Sequence[float]) -> tuple[str, float, float]:
    """Return the drawing of one view with its axes, and its width and height in px."""
    across, up = picture.size[0] / 2, picture.size[1] / 2
    data = b64encode(picture.png).decode()
    parts = [
        text(LEFT + 6, 11, _from(picture)[:1].upper() + _from(picture)[1:], size=12),
        _axis_across(picture, across, up),
        _axis_up(picture, up),
        f'<rect x="{LEFT:g}" y="{ABOVE:g}" width="{number(across)}" height="{number(up)}" fill="var(--film)"/>'
        f'<image x="{LEFT:g}" y="{ABOVE:g}" width="{number(across)}" height="{number(up)}" '
        f'href="data:image/png;base64,{data}"/>',
    ]
    if picture.axes[1] == "z":
        parts.append(_mark_lines(picture, marks, across, up))
    return "".join(parts), LEFT + across + RIGHT, ABOVE + up + BELOW


def _axis_across(picture: Picture, across: float, up: float) -> str:
    left, _, right, _ = picture.box
    base = ABOVE + up + 3
    out = [line(LEFT, base, LEFT + across, base, "rule")]
    for value in ticks(left, right, across / 52):
        x = LEFT + across * (value - left) / (right - left)
        out += [line(x, base, x, base + 4, "rule"), text(x, base + 15, f"{value:g}", colour="faint", anchor="middle")]
    title = f"{picture.axes[0]} (mm)"
    return "".join([*out, text(LEFT + across, base + 28, title, colour="faint", anchor="end")])


def _axis_up(picture: Picture, up: float) -> str:
    _, bottom, _, top = picture.box
    x = LEFT - 3
    out = [line(x, ABOVE, x, ABOVE + up, "rule")]
    for value in ticks(bottom, top, max(up / 24, 1)):
        y = ABOVE + up * (top - value) / (top - bottom)
        out += [line(x - 4, y, x, y, "rule"), text(x - 6, y + 4, f"{value:g}", colour="faint", anchor="end")]
    return "".join([*out, text(0, 11, f"{picture.axes[1]} (mm)", colour="faint")])


def _mark_lines(picture: Picture, marks: Sequence[float], across: float, up: float) -> str:
    _, bottom, _, top = picture.box
    places = [(ABOVE + up * (top - mark) / (top - bottom), f"{mark:g} mm") for mark in marks if bottom <= mark <= top]
    end = LEFT + across + RIGHT - 2
    out = [line(LEFT - 8, y, end, y, "accent", 1.2) for y, _ in places]
    for y, label in grouped(places, LABEL_ROOM):
        where = (end, y - 3 if y - ABOVE > 10 else y + 12)
        out += [halo(*where, label), text(*where, label, colour="accent", anchor="end", weight="600")]
    return "".join(out)


def legend_height(scale: Scale) -> float:
    """Return the height in px that the legend takes."""
    return LEGEND_HEIGHT if not scale.categories else 18.0 * len(scale.categories) + 8


def legend_group(scale: Scale) -> str:
    """Return the legend: the colours from low to high with their values, or each category with its colour."""
    if scale.categories:
        return "".join(
            f'<rect x="{LEFT:g}" y="{4 + 18 * k}" width="12" height="12" fill="{colour}"/>'
            + text(LEFT + 19, 14 + 18 * k, label)
            for k, (label, colour) in enumerate(scale.categories)
        )
    bar = np.zeros((1, 128, 4), np.uint8)
    bar[0, :, :3], bar[..., 3] = cividis(np.linspace(0, 1, 128)), 255
    title = f"{scale.title} ({scale.unit})"
    low = f"{'≤ ' if scale.below else ''}{_value(scale, scale.low)}"
    high = f"{'≥ ' if scale.above else ''}{_value(scale, scale.high)}"
    middle = _value(scale, 0.5 * (scale.low + scale.high))
    return (
        text(LEFT, 11, title)
        + f'<image x="{LEFT:g}" y="17" width="{BAR_WIDTH:g}" height="9" preserveAspectRatio="none" '
        f'href="data:image/png;base64,{b64encode(png(bar)).decode()}"/>'
        + text(LEFT, 39, low, colour="faint")
        + text(LEFT + BAR_WIDTH / 2, 39, middle, colour="faint", anchor="middle")
        + text(LEFT + BAR_WIDTH, 39, high, colour="faint", anchor="end")
    )


def _shortened(words: str, most: int) -> str:
    return words if len(words) <= most else words[: most - 1] + "…"


def _value(scale: Scale, value: float) -> str:
    """A value of the scale with the decimals that its span calls for."""
    span = max(scale.high - scale.low, 1e-6)
    return f"{value:.{max(int(1 - np.floor(np.log10(span))), 0)}f}"
