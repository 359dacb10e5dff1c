"""A study as a text file: what is asked, how it is built, which weather; read, written and run.

May import: study and all above it.
"""

from __future__ import annotations

from hygro.studyfile.members import files_of, prepare_members, run_members, uncertain_studies
from hygro.studyfile.study import Study, besides, run_study
from hygro.studyfile.toml import parse_study, read_study, study_text, write_study
from hygro.studyfile.trials import Search, Sweep
from hygro.studyfile.tried import Tried, run_trials, trials_of
from hygro.studyfile.uncertain import Uncertain
from hygro.studyfile.weather import Records, Sample, Shift, WeatherFile, WeatherYears

__all__ = [
    "Records",
    "Sample",
    "Search",
    "Shift",
    "Study",
    "Sweep",
    "Tried",
    "Uncertain",
    "WeatherFile",
    "WeatherYears",
    "besides",
    "files_of",
    "parse_study",
    "prepare_members",
    "read_study",
    "run_members",
    "run_study",
    "run_trials",
    "study_text",
    "trials_of",
    "uncertain_studies",
    "write_study",
]
