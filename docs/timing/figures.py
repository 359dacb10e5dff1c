"""Figures of the suite: work against error, and cost against size."""

from __future__ import annotations

from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np
from timing import moist, single
from timing.moist import Point

IMAGES = Path(__file__).parents[1] / "images"
# Colours after Okabe and Ito; marks and dashes tell the methods apart without them.
STYLES = {
    moist.OURS: ("#000000", "o", "-"),
    moist.CVODE: ("#d55e00", "s", "--"),
    "scipy LSODA, banded": ("#0072b2", "^", "-."),
    "scipy BDF, banded": ("#009e73", "D", ":"),
    "scipy Radau, banded": ("#cc79a7", "v", (0, (5, 1, 1, 1, 1, 1))),
}


def work_and_error(cases: dict[str, tuple[list[Point], int]]) -> None:
    """Processor time of a roof-year over both errors, a row for each case."""
    figure, axes = plt.subplots(len(cases), 2, figsize=(10.5, 4.1 * len(cases)), sharey=True, squeeze=False)
    for row, (name, (points, days)) in zip(axes, cases.items(), strict=True):
        for ax, quantity, words in zip(
            row,
            ("moisture", "temperature"),
            (
                "largest error of a day's deck moisture content [mass %]",
                "RMS error of the worst cell's temperature [K]",
            ),
            strict=True,
        ):
            for method, (colour, mark, dash) in STYLES.items():
                own = [one for one in points if one.method == method]
                x = [getattr(one, quantity) for one in own]
                y = [one.typical * moist.YEAR_DAYS / days for one in own]
                ax.plot(x, y, color=colour, marker=mark, linestyle=dash, markersize=6, label=method)
            for one in points:
                if one.method == moist.OURS and one.setting == "1 x default":
                    at = (getattr(one, quantity), one.typical * moist.YEAR_DAYS / days)
                    ax.plot(*at, marker="o", markersize=14, fillstyle="none", color="black")
                    ax.annotate("default", at, textcoords="offset points", xytext=(0, 13), ha="center")
            ax.set(xscale="log", yscale="log", xlabel=words)
            ax.grid(True, which="major", color="#d0d0d0", linewidth=0.6)
        row[0].set_title(f"{name}, {days} days", loc="left", fontsize=11)
        row[0].set_ylabel("processor time [s per roof-year]")
    figure.tight_layout(rect=(0.0, 0.04, 1.0, 1.0))
    figure.legend(*axes[0, 0].get_legend_handles_labels(), loc="lower center", ncol=len(STYLES), frameon=False)
    figure.savefig(IMAGES / "benchmark-work-and-error.png", dpi=120)
    plt.close(figure)


def growth(found: dict[str, np.ndarray]) -> None:
    """Solver time over cells and over hours, with straight lines."""
    figure, axes = plt.subplots(1, 2, figsize=(10.5, 3.9))
    words = {"cells": "cells [1]", "hours": "hours of weather [1000 h]"}
    for ax, (name, points) in zip(axes, found.items(), strict=True):
        scale = 1e-3 if name == "hours" else 1.0
        slope, offset, r_squared, power = single.fit(points[:, 0], points[:, 1])
        line = np.array([0.0, points[:, 0].max()])
        ax.plot(scale * line, offset + slope * line, color="#0072b2", label=f"straight line, R2 = {r_squared:.4f}")
        ax.plot(scale * points[:, 0], points[:, 1], "o", color="black", label="measured, least of repeats")
        ax.set(xlabel=words[name], ylabel="solver's processor time [s]", ylim=(0, None), xlim=(0, None))
        ax.set_title(f"power law: exponent {power:.2f}", fontsize=10)
        ax.grid(True, color="#d0d0d0", linewidth=0.6)
        ax.legend()
    figure.tight_layout()
    figure.savefig(IMAGES / "benchmark-growth.png", dpi=120)
    plt.close(figure)
