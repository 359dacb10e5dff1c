"""Picking a layer, a face and a variable out of a run, with errors a builder can act on.

May import: errors, variables.
"""

from __future__ import annotations

from difflib import get_close_matches
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt
import xarray as xr

from hygro.errors import InputError
from hygro.variables import COORDINATES, CRITERION, RUN

Face = Literal["outer", "inner"]
FACES: Final[tuple[Face, ...]] = ("outer", "inner")
HOUR: Final = np.timedelta64(1, "h")
HOURS_PER_YEAR: Final = 8760

Array = npt.NDArray[np.float64]


def require_run(run: xr.Dataset) -> None:
    """Refuse anything that is not an hourly run with layers and cells.

    Raises
    ------
    InputError
        Where `run` is no Dataset, has no layers or cells, or its time stamps are not one hour apart.
    """
    if not isinstance(run, xr.Dataset):
        msg = f"A criterion needs a run as an xarray.Dataset; got {type(run).__name__}. Pass what simulate() returned."
        raise InputError(msg)
    sizes = run.sizes
    for name in ("time", "slice", "cell"):
        if name not in sizes:
            msg = (
                f"The run has no dimension '{name}'; it has {_listed(map(str, sizes))}. "
                "Pass the whole Dataset that simulate() returned, without selecting from it."
            )
            raise InputError(msg)
    coords = run.coords
    for name in ("layer", "cell_layer", "time"):
        if name not in coords:
            msg = f"The run has no coordinate '{name}'. Pass the whole Dataset that simulate() returned."
            raise InputError(msg)
    stamps = coordinate(run, "time")
    if not np.issubdtype(stamps.dtype, np.datetime64):
        msg = f"The run's time stamps are {stamps.dtype}, not dates. Open the file with xarray.open_dataset."
        raise InputError(msg)
    if stamps.size < 2:
        msg = f"The run holds {stamps.size} hour; a criterion needs at least 2. Run a longer time."
        raise InputError(msg)
    # As whole numbers, which is three times as fast: this is asked by every criterion of every member of an ensemble.
    hour = HOUR.astype(stamps.dtype.str.replace("M", "m")).astype(np.int64)
    odd = np.diff(stamps.view(np.int64)) != hour
    if odd.any():
        first = int(odd.argmax())
        msg = (
            f"The run's time stamps are not hourly: {_date(stamps[first])} is followed by "
            f"{_date(stamps[first + 1])}. Criteria need every hour; pass the run as simulate() returned it."
        )
        raise InputError(msg)


def coordinate(run: xr.Dataset, name: str) -> npt.NDArray[Any]:
    """Values of a coordinate that the run has."""
    # Of the variable, not of a DataArray, which would gather all that shares a dimension with it.
    return np.asarray(run.variables[name].values)


def layer_names(run: xr.Dataset) -> list[str]:
    """Labels of all layers, from outside to inside."""
    return [str(label) for label in coordinate(run, "layer").tolist()]


def storing_layers(run: xr.Dataset) -> list[str]:
    """Labels of the layers that have cells, and so can hold water, from outside to inside."""
    present = {int(number) for number in coordinate(run, "cell_layer")}
    return [label for number, label in enumerate(layer_names(run)) if number in present]


def layer_number(run: xr.Dataset, layer: str) -> int:
    """Find a layer's number, counted from 0 at the outside.

    Raises
    ------
    InputError
        Where the run has no layer of that label; the message lists the nearest.
    """
    require_run(run)
    names = layer_names(run)
    if not isinstance(layer, str):
        msg = f"A layer is picked by its label; got {layer!r}. Layers of this run: {_listed(names)}."
        raise InputError(msg)
    if layer not in names:
        near = get_close_matches(layer, names, n=3, cutoff=0.5)
        hint = f"Nearest: {_listed(near)}." if near else f"Layers of this run: {_listed(names)}."
        msg = f"No layer '{layer}' in this run. {hint}"
        raise InputError(msg)
    return names.index(layer)


def layer_cells(run: xr.Dataset, layer: str, *, films: bool = False) -> npt.NDArray[np.intp]:
    """Find the cells of a layer, from outside to inside.

    Condensate films that cling to a layer (coordinate ``cell_is_film``) are not part of its material and are left out
    unless `films` asks for them.

    Raises
    ------
    InputError
        Where the layer is unknown, or is a sheet or gap without cells.
    """
    number = layer_number(run, layer)
    chosen = coordinate(run, "cell_layer") == number
    cells = np.flatnonzero(chosen if films else chosen & ~is_film(run))
    if not cells.size:
        msg = (
            f"Layer '{layer}' has no cells in this run (a sheet or a gap holds no water). "
            f"Choose one of {_listed(storing_layers(run))}."
        )
        raise InputError(msg)
    return cells


def is_film(run: xr.Dataset) -> npt.NDArray[np.bool_]:
    """Whether each cell is a condensate film, shape (n_cell,)."""
    if "cell_is_film" not in run.coords:
        return np.zeros(run.sizes["cell"], dtype=bool)
    return coordinate(run, "cell_is_film").astype(bool)


def face_cell(run: xr.Dataset, layer: str, face: Face) -> int:
    """Index of the outermost (``"outer"``) or innermost (``"inner"``) cell of a layer.

    Raises
    ------
    InputError
        Where the layer is unknown or the face is neither word.
    """
    if face not in FACES:
        msg = f'Layer \'{layer}\': there is no face {face!r}. Write "outer" (towards outdoors) or "inner".'
        raise InputError(msg)
    cells = layer_cells(run, layer)
    return int(cells[0] if face == "outer" else cells[-1])


def values(run: xr.Dataset, name: str, at: int | npt.NDArray[np.intp] | None = None) -> Array:
    """Values of a run's variable as numbers in the registry's order of dimensions, checked for gaps.

    `at` picks along the last dimension (the cell or the layer) before anything is loaded or checked.

    Raises
    ------
    InputError
        Where the variable is missing or holds values that are not finite.
    """
    if name not in run.data_vars:
        msg = (
            f"The run has no variable '{name}' ({RUN[name].long_name}), which this criterion needs. "
            "Pass the whole Dataset that simulate() returned."
        )
        raise InputError(msg)
    dims, variable = RUN[name].dims, run.variables[name]
    if set(variable.dims) != set(dims):
        msg = (
            f"Variable '{name}' of the run has the dimensions {_listed(map(str, variable.dims))}; it must have "
            f"{_listed(dims)}. Pass the whole Dataset that simulate() returned, without selecting from it."
        )
        raise InputError(msg)
    picked = variable if at is None else variable.isel({dims[-1]: at})
    order = [dim for dim in dims if dim in picked.dims]
    if list(picked.dims) != order:
        picked = picked.transpose(*order)
    numbers = np.asarray(picked.values, dtype=float)
    finite = np.isfinite(numbers)
    if not finite.all():
        first = int(np.argwhere(~finite)[0][0])
        msg = (
            f"Variable '{name}' is not a number at {_date(coordinate(run, 'time')[first])}; a criterion needs every "
            "hour. Run again, or cut the run to the hours that are whole."
        )
        raise InputError(msg)
    return numbers


def layer_property(run: xr.Dataset, layer: str, name: str) -> float:
    """Read a coordinate of one layer, ``nan`` where the run does not state it."""
    if name not in run.coords:
        return float("nan")
    return float(coordinate(run, name)[layer_number(run, layer)])


def dry_mass(run: xr.Dataset, layer: str) -> float:
    """Dry density of a layer. [kg m-3].

    Raises
    ------
    InputError
        Where the run states no positive density for the layer.
    """
    density = layer_property(run, layer, "layer_density")
    if not density > 0.0:
        msg = (
            f"Layer '{layer}': a moisture content in percent of the dry mass needs a density; the run states "
            f"{density:g} kg m-3 in coordinate 'layer_density' ({COORDINATES['layer_density'].long_name})."
        )
        raise InputError(msg)
    return density


def cell_thickness(run: xr.Dataset, cells: npt.NDArray[np.intp]) -> Array:
    """Thicknesses of cells, shape (n,). [m]."""
    if "cell_thickness" not in run.coords:
        msg = "The run has no coordinate 'cell_thickness'. Pass the whole Dataset that simulate() returned."
        raise InputError(msg)
    return np.asarray(coordinate(run, "cell_thickness")[cells], dtype=float)


def wrap(run: xr.Dataset, name: str, numbers: Array, **attrs: Any) -> xr.DataArray:
    """DataArray over time and slice that carries the registry's attributes and those given."""
    coords = {key: run.variables[key] for key in ("time", "slice", "slice_position") if key in run.coords}
    return xr.DataArray(
        numbers, dims=CRITERION[name].dims, coords=coords, name=name, attrs=CRITERION[name].attrs() | attrs
    )


def _listed(names: Any) -> str:
    return ", ".join(f"'{name}'" for name in names) or "none"


def _date(stamp: Any) -> str:
    return str(np.datetime_as_string(stamp, unit="m")).replace("T", " ")
