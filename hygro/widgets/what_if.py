"""Turn a knob, see the year again.

`outcome`, `words` and `draw` are plain functions from settings to a result and from results to text and picture; the
panel only passes values between them and the page. Every slider has a number box beside it, because a slider has no
name that a screen reader could say; the picture carries its own words, and the answer is announced.
May import: plots, study, criteria, climate, assembly, indoor, errors.
"""

from __future__ import annotations

import base64
import html
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

import ipywidgets
import numpy as np
from matplotlib.figure import Figure

from hygro.climate import Climate
from hygro.criteria import Outcome, condensate_verdict, moisture_content_verdict, mould_verdict
from hygro.criteria.verdict import quantity
from hygro.errors import HygroError, InputError
from hygro.plots import free_water_curves, moisture_curves
from hygro.plots.style import new_figure, png
from hygro.study import Result, Variant, compare

CAUTION: Final = "Indicative only, without a safety margin. Local codes and a licensed professional decide."
_LABEL: Final = {"description_width": "15em"}
_DPI: Final = 90


@dataclass(frozen=True, slots=True)
class Knob:
    """A number to turn.

    Parameters
    ----------
    label : str
        Name and unit as shown.
    lowest, highest, step : float
        Range; with `is_log` the step is that of the decimal logarithm. [of the label]
    value : float
        Where it starts. [of the label]
    is_log : bool
        Whether equal ways on the slider are equal ratios.
    """

    label: str
    lowest: float
    highest: float
    step: float
    value: float
    is_log: bool = False

    def __post_init__(self) -> None:
        if not self.lowest <= self.value <= self.highest or (self.is_log and self.lowest <= 0.0):
            msg = (
                f"Knob {self.label!r}: starts at {self.value:g} in a range from {self.lowest:g} to {self.highest:g}; "
                "it must start inside, and a logarithmic one must stay above 0."
            )
            raise InputError(msg)


KNOBS: Final[Mapping[str, Knob]] = MappingProxyType(
    {
        "gap": Knob("Gap height [mm]", 10.0, 150.0, 5.0, 50.0),
        "opening": Knob("Openings, each end [cm²/m]", 0.0, 500.0, 10.0, 200.0),
        "permeance": Knob("Retarder permeance [perm]", 0.01, 30.0, 0.02, 0.06, is_log=True),
        "humidity": Knob("Indoor humidity [%]", 15.0, 70.0, 1.0, 35.0),
    }
)


@dataclass(frozen=True, slots=True)
class Panel:
    """The live panel; shown as the last line of a notebook cell.

    Parameters
    ----------
    sliders, boxes : mapping of str to widget
        By the name of their knob; setting ``.value`` of either runs the year again.
    picture, text : HTML widgets
        What the last settings gave.
    box : widget
        All of them together.
    """

    sliders: Mapping[str, Any]
    boxes: Mapping[str, Any]
    picture: Any
    text: Any
    box: Any

    def _repr_mimebundle_(self, **options: Any) -> Any:
        return self.box._repr_mimebundle_(**options)


def outcome(
    build: Callable[..., Variant],
    settings: Mapping[str, float],
    climate: Climate,
    *,
    layer: str,
    start: str,
    years: int,
) -> Result:
    """Result of a variant built from settings.

    Parameters
    ----------
    build : callable
        Takes the settings by name, returns a Variant.
    settings : mapping of str to float
        Values of the knobs. [of the labels]
    climate, layer, start, years
        As for `compare`; the layer is judged as wood.

    Returns
    -------
    Result
        Variant, run and answer.

    Raises
    ------
    InputError
        Where a setting cannot be.
    """
    return compare([build(**settings)], climate, layer=layer, start=start, years=years).results[0]


def words(result: Result, layer: str) -> str:
    """Plain sentences about a result.

    Parameters
    ----------
    result : Result
        What `outcome` returned.
    layer : str
        Label of the judged layer.

    Returns
    -------
    str
        The numbers behind the picture, and how they are to be taken.
    """
    run = result.run
    damp, mould, free = (
        moisture_content_verdict(run, layer),
        mould_verdict(run, layer, "inner"),
        condensate_verdict(run, layer),
    )
    worst = max((verdict.level for verdict in result.answer.verdicts), key=lambda level: level.rank)
    short = "; more years would tell whether water collects" if result.answer.outcome is Outcome.UNKNOWN else ""
    said = [
        f"{str(worst).capitalize()}{short}.",
        f"Moisture content of the {layer}: at most {damp.value:.1f} % (limit {damp.limit:g} %).",
        f"Mould index at its inner face: {mould.value:.1f} (seen by eye from {mould.limit:g}).",
        f"Free water and ice: {free.value:.2f} kg/m² (drips from {free.limit:g}).",
    ]
    if "gap_air_speed" in run:
        speed = float(np.median(np.abs(run["gap_air_speed"].to_numpy())))
        said.append(f"Air in the gap: half of the time above {100 * speed:.0f} cm/s.")
    if result.answer.deciding is not None and worst.rank > 0:
        decided = result.answer.deciding
        value = quantity(decided.value, decided.unit)
        said.append(f"Decided by: {decided.criterion}, {decided.where}, {value}.")
    return " ".join([*said, CAUTION])


def draw(figure: Figure, now: Result, first: Result, layer: str) -> None:
    """Draw a result over the one that the panel started with, on a figure that is used again.

    Parameters
    ----------
    figure : Figure
        Is cleared first.
    now, first : Result
        What is drawn in colour, and what is drawn in its start settings.
    layer : str
        Label of the judged layer.
    """
    figure.clear()
    top, bottom = figure.subplots(2, 1, sharex=True)
    runs = {"now": now.run} if now is first else {"now": now.run, "at first": first.run}
    moisture_curves(top, runs, layer=layer)
    free_water_curves(bottom, runs, layer=layer)
    top.set_title(now.name, loc="left", fontsize=10)


def what_if(
    build: Callable[..., Variant],
    climate: Climate,
    *,
    layer: str,
    start: str = "1 October",
    years: int = 1,
    knobs: Mapping[str, Knob] = KNOBS,
) -> Panel:
    """Panel of sliders that runs a variant again whenever one is moved.

    Parameters
    ----------
    build : callable
        Takes one number for each knob, by name, and returns a Variant.
    climate : Climate
        Outdoor weather.
    layer : str
        Label of the layer to judge, as wood.
    start : str, optional
        First day.
    years : int, optional
        How long. [a]
    knobs : mapping of str to Knob, optional
        What can be turned.

    Returns
    -------
    Panel
        Shown where it is the last line of a cell.

    Raises
    ------
    InputError
        Where the start settings cannot be.
    """
    sliders = {name: _slider(knob) for name, knob in knobs.items()}
    boxes = {name: _number_box(knob) for name, knob in knobs.items()}
    picture, text = ipywidgets.HTML(), ipywidgets.HTML()
    figure = new_figure(8.4, 3.8)

    def run() -> Result:
        settings = {name: float(slider.value) for name, slider in sliders.items()}
        return outcome(build, settings, climate, layer=layer, start=start, years=years)

    first = run()

    def show(now: Result) -> None:
        draw(figure, now, first, layer)
        said = words(now, layer)
        picture.value = _image(figure, f"Moisture content and free water of the {layer} over the months. {said}")
        text.value = f'<p role="status" aria-live="polite">{html.escape(said)}</p>'

    def again(_: object) -> None:
        try:
            show(run())
        except HygroError as error:
            text.value = f'<p role="alert">{html.escape(str(error))}</p>'

    show(first)
    for name, slider in sliders.items():
        ipywidgets.link((boxes[name], "value"), (slider, "value"))
        slider.observe(again, names="value")
    rows = [ipywidgets.HBox([boxes[name], slider]) for name, slider in sliders.items()]
    return Panel(
        MappingProxyType(sliders), MappingProxyType(boxes), picture, text, ipywidgets.VBox([*rows, text, picture])
    )


def _slider(knob: Knob) -> Any:
    # Moved values arrive on release: a year takes longer than a drag's next step.
    shared: dict[str, Any] = {
        "value": knob.value,
        "step": knob.step,
        "readout": False,
        "continuous_update": False,
        "layout": ipywidgets.Layout(width="20em"),
        "tooltip": knob.label,
    }
    if knob.is_log:
        return ipywidgets.FloatLogSlider(min=np.log10(knob.lowest), max=np.log10(knob.highest), **shared)
    return ipywidgets.FloatSlider(min=knob.lowest, max=knob.highest, **shared)


def _number_box(knob: Knob) -> Any:
    return ipywidgets.BoundedFloatText(
        description=knob.label,
        value=knob.value,
        min=knob.lowest,
        max=knob.highest,
        step=None if knob.is_log else knob.step,
        style=_LABEL,
        layout=ipywidgets.Layout(width="24em"),
    )


def _image(figure: Figure, said: str) -> str:
    source = base64.b64encode(png(figure, _DPI)).decode()
    return f'<img alt="{html.escape(said, quote=True)}" src="data:image/png;base64,{source}" style="max-width:100%">'
