"""The solver's run beside the peer's: moisture of layers, temperatures, ice, in the units of the tests."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import peer_run

from hygro import simulate
from hygro.core.work import Settings

DEFAULT = Settings()
TIGHT = Settings(temperature_error=0.01, water_error=2e-4, newton=1e-4, finest_step=1.0)


@dataclass(frozen=True)
class Pair:
    """A run [Dataset] and the peer's results over the same hours."""

    run: object
    peer: peer_run.PeerRun

    def _cells(self, layer: str) -> np.ndarray:
        return self.run.cell_layer.values == list(self.run.layer.values).index(layer)

    def _per_area(self, values: np.ndarray, layer: str) -> np.ndarray:
        inside = self._cells(layer)
        return (values[..., inside] * self.run.cell_thickness.values[inside]).sum(axis=-1)

    def moisture(self, layer: str) -> tuple[np.ndarray, np.ndarray]:
        """Daily means of a layer's moisture content [mass per cent], run and peer, shape (days, slices)."""
        number = list(self.run.layer.values).index(layer)
        dry = float(self.run.layer_thickness[number] * self.run.layer_density[number]) / 100.0
        return tuple(
            daily(self._per_area(water, layer)) / dry for water in (self.run.water_content.values, self.peer.water)
        )

    def moisture_error(self, layer: str) -> float:
        """Largest difference of daily means [mass per cent]."""
        ours, theirs = self.moisture(layer)
        return float(np.abs(ours - theirs).max())

    def ice(self, layer: str) -> tuple[np.ndarray, np.ndarray]:
        """Ice in a layer [kg m-2], run and peer, shape (hours, slices)."""
        return self._per_area(self.run.ice_content.values, layer), self._per_area(self.peer.ice, layer)

    def temperature_rms(self) -> float:
        """Root mean square of the hourly differences of temperature in the worst cell [K]."""
        difference = self.run.temperature.values - self.peer.temperature
        return float(np.sqrt((difference**2).mean(axis=0)).max())


def daily(values: np.ndarray) -> np.ndarray:
    """Means of days from hourly values."""
    return values.reshape(-1, 24, *values.shape[1:]).mean(axis=1)


def pair(assembly, climate, indoor, peer: peer_run.PeerRun, settings: Settings = DEFAULT, **options) -> Pair:
    """The solver's run beside a peer's."""
    return Pair(simulate(assembly, climate, indoor, settings=settings, **options), peer)
