"""Live panels for notebooks: shells of sliders over pure functions.

May import: plots, study and all above them.
"""

from __future__ import annotations

from hygro.widgets.what_if import KNOBS, Knob, Panel, what_if

__all__ = ["KNOBS", "Knob", "Panel", "what_if"]
