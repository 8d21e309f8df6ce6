"""The count as a picture: of the eggs set how many were fertile, live, and will hatch; the sure part filled, the rest open."""

from typing import Any

from chalaza.charts import base
from chalaza.charts.base import Drawing, Panel, Say, number, plain
from chalaza.charts.labels import Label, text_width
from chalaza.charts.table import Column, Table
from chalaza.inference.understanding import Understanding
from chalaza.values.answers import Assessment

HEIGHT = 222
#: The first bar, from bar to bar, and how thick. [px]
_FIRST, _PITCH, _THICK = 27.0, 46.0, 12.0
_TICK = 5.0

Stage = tuple[str, float, float, float]


def stages(a: Assessment, say: Say = plain) -> tuple[Stage, ...]:
    """Name, value and 90 % range of each stage, from all set to the young."""
    c = a.count
    done = c.out > 0 and c.alive.high <= 0.0
    return (
        (say("set"), float(c.set), float(c.set), float(c.set)),
        (say("fertile"), c.fertile.value, c.fertile.low, c.fertile.high),
        *(
            [(say("out of the shell"), float(c.out), float(c.out), float(c.out))]
            if c.out
            else [(say("alive now"), c.alive.value, c.alive.low, c.alive.high)]
        ),
        (
            say("young") if done else say("young expected"),
            c.expected_young.value, c.expected_young.low, c.expected_young.high,
        ),
    )  # fmt: skip


def label(u: Understanding, a: Assessment, say: Say = plain) -> str:
    """What the picture says, for who cannot see it."""
    del u
    return "; ".join(f"{name}: {_figure(value, low, high)}" for name, value, low, high in stages(a, say)) + "."


def _figure(value: float, low: float, high: float) -> str:
    return f"{value:.0f}" if low == high else f"{value:.0f} ({low:.0f}–{high:.0f})"


def table(u: Understanding, a: Assessment, say: Say = plain) -> Table:
    """The stages with their 90 % ranges."""
    del u
    columns = (Column(""), Column(say("eggs"), "", 0), Column(say("at least"), "", 0), Column(say("at most"), "", 0))
    return Table(columns, stages(a, say))


def definition(
    u: Understanding, a: Assessment, *, width: int = 420, zone: str | None = None, text: str | None = None,
    say: Say = plain,
) -> dict[str, Any]:  # fmt: skip
    """The chart. `text` stands for `label`; `zone` is not needed."""
    del zone
    found, wanted = stages(a, say), a.count.wanted_young
    out = Drawing(width, HEIGHT, label(u, a, say) if text is None else text, foot_px=0)
    most = max(a.count.set, wanted or 0)
    panel = Panel(
        left=1.0, right=width - 2.0, top=0.0, bottom=float(HEIGHT), x=(0.0, float(most)), y=(float(HEIGHT), 0.0)
    )
    out.data["stages"] = [_row(i, one, a.count.set) for i, one in enumerate(found)]
    for i, (name, value, low, high) in enumerate(found):
        _name(out, i, name, value, low, high)
    layers = [
        panel.level("stages", "high", "set", "middle", width=1.0, token="hair"),
        panel.bars("stages", "zero", "low", "top", "foot", token="ink", opacity=base.CHANCE),
        _edge(panel, "zero", "low"),
        _edge(panel, "low", "high"),
        panel.upright("stages", "value", "under", "over", width=6.5, token="paper"),
        panel.upright("stages", "value", "under", "over", width=3.0),
    ]
    if wanted is not None:
        layers += _asked(out, panel, wanted, say)
    out.panels.append(layers)
    return out.definition()


def _row(i: int, stage: Stage, total: int) -> dict[str, Any]:
    name, value, low, high = stage
    top = _FIRST + i * _PITCH
    return {
        "stage": name, "value": number(value), "low": number(low), "high": number(high), "zero": 0.0,
        "set": float(total), "top": top, "foot": top + _THICK, "middle": top + 0.5 * _THICK,
        "under": top - _TICK, "over": top + _THICK + _TICK,
    }  # fmt: skip


def _edge(panel: Panel, first: str, last: str) -> base.Layer:
    """The outline of a part of each bar: filled if it is sure, open if it is not."""
    layer = panel.bars("stages", first, last, "top", "foot", token="ink", opacity=0.0)
    layer["mark"] |= {"stroke": layer["mark"]["color"], "strokeWidth": base.EDGE, "strokeOpacity": 1}
    return layer


def _name(out: Drawing, i: int, name: str, value: float, low: float, high: float) -> None:
    """Figure and name left, the range right: nothing depends on how wide a font runs."""
    y = _FIRST + i * _PITCH - 9.0
    figure = f"{value:.0f}"
    out.board.place([Label(x=0.0, y=y, text=figure, bold=True)])
    out.board.place([Label(x=text_width(figure, bold=True) + 6.0, y=y, text=name)])
    if low < high:
        out.board.place([Label(x=out.width - 1.0, y=y, text=f"{low:.0f}–{high:.0f}", align="right", token="soft")])


def _asked(out: Drawing, panel: Panel, wanted: int, say: Say) -> list[base.Layer]:
    """A post at the number of young asked for, over the last bar."""
    top = _FIRST + 3 * _PITCH
    out.data["asked"] = [{"young": float(wanted), "from": top - _TICK - 3.0, "to": top + _THICK + _TICK + 4.0}]
    x, y = panel.px(float(wanted)), top + _THICK + _TICK + 16.0
    word = f"{wanted} {say('asked for')}"
    tries = [
        Label(x=x, y=y, text=word, align="center", token="soft"),
        Label(x=x + 2.0, y=y, text=word, align="right", token="soft"),
        Label(x=x - 2.0, y=y, text=word, token="soft"),
    ]
    out.board.place(tries)
    return [panel.upright("asked", "young", "from", "to", width=base.EDGE, token="line")]
