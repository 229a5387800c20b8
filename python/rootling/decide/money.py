"""Prices and costs as callers write them: numbers, or text with the name of the money."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, TypeAlias

from rootling._given import is_name, plain, shortened, spelled
from rootling.exceptions import ChoiceError

__all__ = ["Money", "MoneyName", "Purse"]

# A number, or text such as "3 EUR".
Money: TypeAlias = float | str
MoneyName: TypeAlias = str

# What each amount is for, in words that may stand after it: "0.40 EUR per cutting".
OF = {
    "price": ("tree", "trees", "plant", "saleable tree"),
    "per_cutting": ("cutting", "cuttings"),
    "per_tray": ("tray", "trays"),
    "per_day": ("day", "days", "tray and day"),
    "of_level": ("cutting", "cuttings"),
    "cost": ("trial",),
}
EXAMPLES = {"price": "3.0", "per_cutting": "0.4", "per_tray": "1.0", "per_day": "0.1", "cost": "500"}
SIGNS = {"\N{EURO SIGN}": "EUR", "\N{POUND SIGN}": "GBP", "\N{YEN SIGN}": "JPY"}
AMOUNT = r"[+-]?\d+(?:[.,' \N{NO-BREAK SPACE}]\d+)*"
NAME = r"[^\W\d_]{1,20}|[\N{EURO SIGN}\N{POUND SIGN}\N{YEN SIGN}$]"
WRITTEN = re.compile(rf"\s*({NAME})?\s*({AMOUNT})\s*({NAME})?\s*(?:(?:per|a|an|each|/)\s*([\w ]+?))?\s*")
# Digits after a comma that are decimals, whatever the country.
DECIMALS = re.compile(r"[+-]?\d+,\d{1,2}")


class Purse:
    """The money of a question: every amount that is read has to be of the same.

    Examples
    --------
    >>> purse = Purse(None)
    >>> purse.amount("price", "3 EUR"), purse.amount("per_cutting", 0.4), purse.name
    (3.0, 0.4, 'EUR')
    """

    def __init__(self, name: Any) -> None:
        self.name: str | None = None
        self.said = "money"
        if name is None:
            return
        if not is_name(name) or not any(letter.isalpha() or letter in "$" or letter in SIGNS for letter in name):
            raise ChoiceError(
                f'money={shortened(name)} is no name of a money; write money="EUR", and amounts as price=3 or '
                'price="3 EUR"'
            )
        self.name = SIGNS.get(name, name)

    def amount(self, option: str, given: Any, kind: str | None = None) -> float | None:
        """An amount; ``kind`` says which one it is where an option has several."""
        value = plain(given)
        if value is None and option != "price":
            return None
        example = self._example(option, kind)
        if isinstance(value, str):
            return self._read(option, value, kind or option, example)
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise ChoiceError(f"{option}={shortened(given)} holds no number; write {example}")
        return float(value)

    def by_level(self, option: str, given: Any) -> dict[str, float]:
        """Amounts by level, the levels as the core spells them."""
        example = f"{option}={{5000: 0.02}}"
        if given is None:
            return {}
        if not isinstance(given, Mapping):
            raise ChoiceError(f"{option}={shortened(given)} does not say of which level; write {example}")
        found = {}
        for level, one in given.items():
            amount = self.amount(option, one, option)
            if amount is None:
                raise ChoiceError(f"{option} says nothing for level {spelled(level)}; write {example}, or leave it out")
            found[spelled(level)] = amount
        return found

    @staticmethod
    def _example(option: str, kind: str | None) -> str:
        if option == "of_level":
            return "of_level={5000: 0.02}"
        number = EXAMPLES.get(kind or option, "3.0")
        return f'{option}={number}, or {option}="{number} EUR"'

    def _read(self, option: str, text: str, kind: str, example: str) -> float:
        found = WRITTEN.fullmatch(text)
        if found is None:
            raise ChoiceError(f"{option}={shortened(text)} is no amount of money; write {example}")
        before, digits, after, per = found.groups()
        if before and after and SIGNS.get(before, before) != SIGNS.get(after, after):
            raise ChoiceError(f"{option}={shortened(text)} names two moneys; write {example}")
        if per is not None and per.strip().lower() not in OF.get(kind, ()):
            own = OF.get(kind, ("tree",))[0]
            raise ChoiceError(
                f"{option}={shortened(text)} is said per {per.strip()}, and {option} is per {own}; give it as {example}"
            )
        self._name(option, before or after)
        return _number(option, digits, text)

    def _name(self, option: str, name: str | None) -> None:
        if name is None:
            return
        own = SIGNS.get(name, name)
        if self.name is not None and self.name.casefold() != own.casefold():
            raise ChoiceError(
                f"{self.said} is in {self.name} and {option} in {own}; nothing is converted here, so give all prices "
                "and costs in one money"
            )
        if self.name is None:
            self.name, self.said = own, option


def _number(option: str, digits: str, text: str) -> float:
    """A number as it is written; a mark that may be of thousands or of decimals is asked about."""
    if DECIMALS.fullmatch(digits):
        return float(digits.replace(",", "."))
    bare = re.sub(r"[ '\N{NO-BREAK SPACE}]", "", digits)
    if "," not in bare and bare.count(".") <= 1:
        return float(bare)
    plainly = bare.replace(",", "").replace(".", "")
    raise ChoiceError(
        f"{option}={shortened(text)} can be read in two ways, as its marks may be of thousands or of decimals; write "
        f"{plainly}, or its decimals after a dot"
    )
