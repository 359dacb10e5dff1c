"""The exceptions and warnings of the package.

Every message has up to five parts, in this order: what is wrong, where, what was given, what is allowed,
what to do. This module imports nothing of ours.
"""

from __future__ import annotations

import warnings


class HygroError(Exception):
    """Base of every error that this package raises on purpose."""


class InputError(HygroError, ValueError):
    """Something the user stated cannot be right."""


class ClimateError(InputError):
    """A climate file or record cannot be used as it is."""


class MaterialError(InputError):
    """A material is unknown or its data contradict themselves."""


class OutputError(HygroError, OSError):
    """A result could not be written where it was asked for."""


class ConvergenceError(HygroError, RuntimeError):
    """The solver could not go on; the message names the hour, the layer and the likely cause."""


class HygroWarning(UserWarning):
    """Done, but you should know."""


class DangerWarning(HygroWarning):
    """Somebody could be hurt; said every time, not once for each line of code as other warnings are."""


# Last in the list, so that whoever asked for something else gets it.
warnings.simplefilter("always", DangerWarning, append=True)
