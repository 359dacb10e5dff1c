"""The live panel for notebooks and stand-alone pages: `explore`.

State, controls, history, code and words are plain functions; the panel passes values between them, the solver and the
page. May import: plots, demo, study and all above them.
"""

from __future__ import annotations

from hygro.widgets.explore import explore
from hygro.widgets.panel import Panel

__all__ = ["Panel", "explore"]
