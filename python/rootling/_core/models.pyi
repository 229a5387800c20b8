"""Models of the take rate."""

from typing import Any, final

from .trial import Trial

__all__ = ["Model", "fit", "restore"]

@final
class Model:
    """A fitted model."""

    @property
    def fingerprint(self) -> str: ...
    @property
    def methods(self) -> str: ...
    @property
    def references(self) -> list[str]: ...
    @property
    def record(self) -> dict[str, Any]: ...
    def effect_tests(self) -> dict[str, Any]: ...
    def odds_ratios(self, level: float) -> dict[str, Any]: ...
    def adjusted_rates(self, by: str, options: dict[str, Any]) -> dict[str, Any]: ...
    def contrasts(self, by: str, options: dict[str, Any]) -> dict[str, Any]: ...
    def letters(self, by: str, options: dict[str, Any]) -> dict[str, Any]: ...

def fit(trial: Trial, spec: dict[str, Any]) -> Model:
    """Fits a model to a trial's counts."""

def restore(record: dict[str, Any], fingerprint: str) -> Model:
    """The model of a record, fitted again to the counts it holds."""
