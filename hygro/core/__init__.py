"""Numbers only: formulas, tables, the governing equations and their integration in time."""
