"""A study as a text file: what is asked, how it is built, which weather; read, written and run.

May import: study and all above it.
"""

from __future__ import annotations

from hygro.studyfile.study import Sample, Study, WeatherFile, besides, run_study
from hygro.studyfile.toml import parse_study, read_study, study_text, write_study

__all__ = [
    "Sample",
    "Study",
    "WeatherFile",
    "besides",
    "parse_study",
    "read_study",
    "run_study",
    "study_text",
    "write_study",
]
