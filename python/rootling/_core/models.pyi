"""Models of the take rate."""

from typing import Any, final

from .trial import Trial

__all__ = ["Model", "fit"]

@final
class Model:
    """A fitted model."""

    @property
    def record(self) -> dict[str, Any]: ...
    def effect_tests(self) -> dict[str, Any]: ...
    def odds_ratios(self, level: float) -> dict[str, Any]: ...
    def adjusted_rates(self, by: str, within: str | None, level: float) -> dict[str, Any]: ...

def fit(trial: Trial, spec: dict[str, Any]) -> Model:
    """Fits a model to a trial's counts."""
