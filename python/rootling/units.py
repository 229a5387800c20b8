"""Hormone strengths: what a number on the bottle means, and what it equals in another unit."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from rootling import _core
from rootling._given import is_name, plain, shortened
from rootling._results import Note
from rootling.exceptions import StrengthError

_TEXTS = {"substance": "IBA", "unit": "mg/L", "method": "quick dip", "carrier": "talc", "column": "strength"}

__all__ = ["Strength", "convert", "equivalent", "parse", "plausibility"]


@dataclass(frozen=True)
class Strength:
    """What a strength column means.

    Parameters
    ----------
    substance : str
        ``"IBA"``, ``"K-IBA"``, ``"NAA"`` or another name.
    unit : str
        ``"mg/L"``, ``"g/L"``, ``"ppm w/v"``, ``"ppm w/w"``, ``"mg/kg"``, ``"%"`` with basis, or ``"mM"``.
    method : str
        ``"quick dip"``, ``"soak"``, ``"talc"``, ``"paste"``.
    carrier : str, optional
        Solvent or powder, for example ``"50 % ethanol"``.
    molar_mass : float, optional
        In g/mol, for substances that are not known.
    column : str, optional
        The strength column, when it is not called "strength".

    Examples
    --------
    >>> import rootling as rl
    >>> rl.Strength("IBA", unit="mg/L", method="quick dip").substance
    'IBA'
    """

    substance: str
    unit: str = "mg/L"
    method: str | None = None
    carrier: str | None = None
    molar_mass: float | None = None
    column: str | None = None

    def __post_init__(self) -> None:
        for name in ("substance", "unit", "method", "carrier", "column"):
            given = getattr(self, name)
            if not is_name(given) and not (given is None and name in ("method", "carrier", "column")):
                raise StrengthError(
                    f'{name}={shortened(given)} is no text that it can be; write {name}="{_TEXTS[name]}"'
                )
        mass = plain(self.molar_mass)
        if mass is not None and (isinstance(mass, bool) or not isinstance(mass, (int, float)) or not 0 < mass < 1e6):
            raise StrengthError(f"molar_mass={shortened(mass)} is no mass in g/mol; write molar_mass=203.24")
        _core.units.check(self.to_dict())

    def to_dict(self) -> dict[str, Any]:
        """Plain values, without the column name."""
        values = asdict(self)
        del values["column"]
        return values


def convert(value: float, strength: Strength, unit: str) -> float:
    """The same strength in another unit.

    Parameters
    ----------
    value : float
        A number in the strength's unit.
    strength : Strength
        What the number means.
    unit : str
        The unit wanted; weight per volume and weight per weight are never mixed.

    Returns
    -------
    float

    Raises
    ------
    StrengthError
        When the two units cannot share an axis.

    Examples
    --------
    >>> import rootling as rl
    >>> rl.units.convert(2500, rl.Strength("IBA", unit="mg/L"), "g/L")
    2.5
    """
    return float(_core.units.convert(value, strength.to_dict(), unit))


def equivalent(value: float, strength: Strength, substance: str) -> float:
    """The strength of another substance with as many molecules, in the same unit.

    Between a salt and its acid (K-IBA and IBA) this is the same amount of active acid. Between two different acids it
    is the same number of molecules, not the same effect: no rate of rooting follows from it.

    Parameters
    ----------
    value : float
        A number in the strength's unit.
    strength : Strength
        What the number means.
    substance : str
        The other substance: ``"IBA"``, ``"K-IBA"`` or ``"NAA"``.

    Returns
    -------
    float

    Raises
    ------
    StrengthError
        When the molar mass of either substance is not known.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.units.equivalent(1000, rl.Strength("K-IBA", unit="mg/L"), "IBA"))
    842
    """
    return float(_core.units.equivalent(value, strength.to_dict(), substance))


def parse(text: str) -> tuple[float, str]:
    """A number and its unit from text such as "2500 mg/L" or "0,25 %".

    Examples
    --------
    >>> import rootling as rl
    >>> rl.units.parse("2500 mg/L")
    (2500.0, 'mg/L')
    """
    value, unit = _core.units.parse(text)
    return float(value), str(unit)


def plausibility(value: float, strength: Strength) -> Note | None:
    """A caution when a strength is unusual for its substance and method; nothing when it is not.

    Parameters
    ----------
    value : float
        A number in the strength's unit.
    strength : Strength
        What the number means.

    Returns
    -------
    Note or None

    Examples
    --------
    >>> import rootling as rl
    >>> rl.units.plausibility(900_000, rl.Strength("IBA", unit="mg/L", method="quick dip")).code
    'unusual_strength'
    """
    note = _core.units.plausibility(value, strength.to_dict())
    return None if note is None else Note(**note)
