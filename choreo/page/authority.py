"""What one that goes in step can still make good, over time, as a curve."""

from __future__ import annotations

from choreo.page.markup import text
from choreo.plans.authority_record import Authority
from choreo.report.authority import runs_out_words
from choreo.words.display import plain

# In px of the drawing: its size, room at its left and right, above and below; where the axis of time lies.
WIDE, HIGH = 460.0, 176.0
LEFT, RIGHT, TOP, BOTTOM = 72.0, 12.0, 14.0, 30.0
# What is beyond this (s) is drawn there: it would hide what decides.
MOST_S = 1.0


def authority_html(one: Authority) -> str:
    """Draw delays upwards and leads downwards over the time before the encounter."""
    told = [*one.late_s, *one.early_s]
    top = min(MOST_S, max([0.1, *(MOST_S if value is None else value for value in told)]))
    begin, end = one.times_s[0], max(one.meets_s, one.times_s[0] + 1e-3)

    def x(time_s: float) -> float:
        return LEFT + (WIDE - LEFT - RIGHT) * (time_s - begin) / (end - begin)

    def y(delay_s: float) -> float:
        middle, half = TOP + (HIGH - TOP - BOTTOM) / 2, (HIGH - TOP - BOTTOM) / 2
        return middle - half * max(-1.0, min(1.0, delay_s / top))

    def height(value: float | None, sign: float) -> float:
        return y(sign * (top if value is None else value))

    late = [(x(t), height(v, 1.0)) for t, v in zip(one.times_s, one.late_s, strict=True)]
    early = [(x(t), height(v, -1.0)) for t, v in zip(one.times_s, one.early_s, strict=True)]
    outline = " ".join(f"{px:.1f},{py:.1f}" for px, py in [*late, *reversed(early)])
    out_x = x(one.runs_out_s)
    parts = [
        f'<polygon class="band" points="{outline}"/>',
        _line((LEFT, y(0.0)), (WIDE - RIGHT, y(0.0)), "scale"),
        _line((out_x, TOP), (out_x, HIGH - BOTTOM), "wanted"),
        _label(LEFT - 4, y(top) + 4, f"{plain(top, 1)} s late", "end"),
        _label(LEFT - 4, y(-top) + 4, f"{plain(top, 1)} s early", "end"),
        _label(LEFT, HIGH - 8, f"{plain(end - begin, 1)} s before {one.encounter}", "start"),
        _label(WIDE - RIGHT, HIGH - 8, one.encounter, "end"),
        _label(out_x - 4, TOP + 10, "runs out", "end"),
    ]
    label = f"How much {one.lead} may be late or early with {one.mover} still in place"
    drawn = (
        f'<svg class="errors-drawn" viewBox="0 0 {WIDE:.0f} {HIGH:.0f}" role="img" '
        f'aria-label="{text(label)}">{"".join(parts)}</svg>'
    )
    words = f"What of {one.lead} {one.mover} can still make good. {runs_out_words(one)}"
    return f"<figure>{drawn}<figcaption>{text(words)}</figcaption></figure>"


def _line(start: tuple[float, float], end: tuple[float, float], kind: str) -> str:
    (x1, y1), (x2, y2) = start, end
    return f'<line class="{kind}" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>'


def _label(x: float, y: float, words: str, anchor: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{text(words)}</text>'
