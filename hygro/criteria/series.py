"""Series of one layer of a run, each found when it is first asked for: what several criteria of a run share.

May import: the criteria of this folder that find them.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import xarray as xr

from hygro.criteria.condensation import free_water
from hygro.criteria.mould import MouldSensitivity, index_at
from hygro.criteria.select import Array, Face
from hygro.criteria.wood import Part, moisture_contents

PARTS: tuple[Part, ...] = ("mean", "outer", "inner")


class LayerSeries:
    """Series of a layer, kept as long as this object is.

    Parameters
    ----------
    run : xarray.Dataset
        A run, which must not change meanwhile.
    layer : str
        Label of the layer.
    """

    def __init__(self, run: xr.Dataset, layer: str) -> None:
        self.run, self.layer = run, layer
        self._content: dict[Part, Array] = {}
        self._mould: dict[Face, tuple[Array, MouldSensitivity]] = {}
        self._free: Array | None = None

    def content(self, part: Part = "mean") -> Array:
        """Numbers of `moisture_content`, shape (n_hour, n_slice). [%]."""
        if not self._content:  # of all parts at once: to pick the water of the layer takes longer than to sum it up
            contents = moisture_contents(self.run, self.layer, *PARTS)
            self._content = {one: _kept(content) for one, content in zip(PARTS, contents, strict=True)}
        return self._content[part]

    def mould(self, face: Face) -> tuple[Array, MouldSensitivity]:
        """Numbers of `mould_index`, shape (n_hour, n_slice) [1], and the class of the surface."""
        if face not in self._mould:
            index, sensitivity = index_at(self.run, self.layer, face)
            self._mould[face] = _kept(index), sensitivity
        return self._mould[face]

    def free_water(self) -> Array:
        """Numbers of `condensate`, shape (n_hour, n_slice). [kg m-2]."""
        if self._free is None:
            self._free = _kept(free_water(self.run, self.layer))
        return self._free


def _kept(numbers: Array) -> npt.NDArray[np.float64]:
    numbers.flags.writeable = False
    return numbers
