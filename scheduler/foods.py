"""The foods of the published tables, and finding one by what a person typed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cache, lru_cache

from scheduler.errors import UnknownFood
from scheduler.tables import Row, Tables, packaged_tables

MEAT_AND_FISH_GUIDE = 5
"""Guide 5 of USDA AIB 539 is "Preparing and Canning Poultry, Red Meats, and Seafoods"."""

# The guides of USDA AIB 539 by their subjects, 2 to 7: a family of foods that are prepared alike.
_FAMILIES = {
    2: "fruit",
    3: "tomatoes",
    4: "vegetables",
    5: "poultry, red meats and seafoods",
    6: "ferments and pickles",
    7: "jams and jellies",
}

# Foods of other guides that hold meat or fish all the same. Source: their printed names in USDA AIB 539,
# Guides 3 and 4; the mincemeat's recipe (Guide 2, p. 2-30) is made with ground meat and suet. Soups may be
# without meat; the table is one, so all soups count.
_ALSO_MEAT_OR_FISH = frozenset(
    {"soups", "soups_with_seafood", "spaghetti_sauce_with_meat", "festive_mincemeat_pie_filling"}
)
_MOST_NEAREST = 8
# Share of letters that must agree before a name is offered as "did you mean"; a matter of taste, not of safety.
_LEAST_LIKENESS = 0.6
_ONE_WORD_SHARE = 0.8
_EXCLUDED = re.compile(r"\b(?:except|no|without) ([a-z0-9]+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Food:
    """A food as the guide prints it. ``guide`` is its number in USDA AIB 539, 2 to 7."""

    id: str
    name: str
    guide: int

    @property
    def meat_or_fish(self) -> bool:
        """True when the kitchen's cut-off and cleaning for meat and fish apply (rule S15)."""
        return self.guide == MEAT_AND_FISH_GUIDE or self.id in _ALSO_MEAT_OR_FISH


def foods() -> tuple[Food, ...]:
    """Every food with a published process, in the guide's order."""
    return tuple(_packaged().values())


@lru_cache(maxsize=1024)
def find_food(text: str) -> Food:
    """The food with this id or this printed name; capitals, spaces, hyphens and commas do not matter.

    A part of a name is never enough: "tuna" is part of "... fatty fish except tuna". ``UnknownFood`` names the
    nearest foods.
    """
    known = _by_plain_name().get(_plain(text))
    if known is not None:
        return known
    nearest = nearest_foods(text)
    meant = "; ".join(f"{food.name} ({food.id})" for food in nearest)
    raise UnknownFood(
        f"No food is called {text!r} in the published tables.",
        remedy=f"Nearest: {meant}." if meant else "Choose one from the list of foods.",
        nearest=tuple(food.id for food in nearest),
    )


def knows_food(text: str) -> bool:
    """True when ``find_food`` finds one, without looking for what else may be meant."""
    return _plain(text) in _by_plain_name()


def nearest_foods(text: str) -> tuple[Food, ...]:
    """Up to eight foods that the text may mean, the likeliest first; none when nothing is like it."""
    wanted = _plain(text)
    if not wanted:
        return ()
    scored = [(_likeness(wanted, food), food) for food in foods()]
    likely = sorted(
        (pair for pair in scored if pair[0] >= _LEAST_LIKENESS), key=lambda pair: (-pair[0], pair[1].id)
    )
    return tuple(food for _, food in likely[:_MOST_NEAREST])


def family_words(guide: int) -> str:
    """The family of foods that a guide is about."""
    return _FAMILIES.get(guide, f"guide {guide}")


def is_meat_or_fish(food: str) -> bool:
    """True when rule S15 applies to this food, given by id or printed name."""
    return find_food(food).meat_or_fish


def read_foods(tables: Tables) -> Mapping[str, Food]:
    """The foods of a set of tables by id. ``TablesDamaged`` when two answer to one name."""
    found: dict[str, Food] = {}
    names: dict[str, str] = {}
    for row in tables.foods:
        food = Food(id=row.text("food_id"), name=row.text("food_name"), guide=row.whole("guide"))
        _refuse_shared_name(row, food, names)
        found[food.id] = food
    return found


@cache
def _packaged() -> Mapping[str, Food]:
    return read_foods(packaged_tables())


@cache
def _by_plain_name() -> Mapping[str, Food]:
    return {_plain(name): food for food in foods() for name in (food.id, food.name)}


def _refuse_shared_name(row: Row, food: Food, names: dict[str, str]) -> None:
    for name in {_plain(food.id), _plain(food.name)}:
        if name in names:
            raise row.damaged(f"{food.id} and {names[name]} answer to one name")
        names[name] = food.id


def _plain(text: str) -> str:
    return " ".join(re.findall(r"[a-z0-9]+", text.casefold()))


def _likeness(wanted: str, food: Food) -> float:
    """From 0 to 2: all words found comes first, then likeness of the letters to the id, the name or one word.

    A word that the printed name excludes counts as not found: "tuna" is not offered "... except tuna".
    """
    names = (_plain(food.id), _plain(food.name))
    words = {word for name in names for word in name.split()} - set(_EXCLUDED.findall(names[1]))
    asked = wanted.split()
    found = sum(any(word.startswith(one) for word in words) for one in asked) / len(asked)
    alike = max(_letters(wanted, name) for name in names)
    if len(asked) == 1:
        alike = max(alike, *(_letters(wanted, word) * _ONE_WORD_SHARE for word in words))
    return 1 + alike if found == 1 else max(found * _ONE_WORD_SHARE, alike)


def _letters(left: str, right: str) -> float:
    return SequenceMatcher(None, left, right).ratio()
