"""Zones of a recipe and their mixes from what a file says."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Callable, Sequence

from farmmap.plans.planting.recipes.keys import PATTERNS, PLANT, STOCKS, ZONE
from farmmap.plans.planting.recipes.kinds import PlantKinds
from farmmap.plans.planting.recipes.recipe import Kin, Pattern, PlantKind, Zone
from farmmap.plans.planting.recipes.table_reading import Reader, Said
from farmmap.plans.planting.recipes.toml_lines import Path

ROUNDING = 0.001
"""Shares that miss 1 by no more are taken as rounded and evened out."""

_SPACINGS = ("spacing_m", "between_m", "within_m")


class ZoneReader:
    """Reads zones, and keeps how each plant was first written, so that it is called one thing throughout.

    Parameters
    ----------
    reader : Reader
        Keeps the faults.
    own : PlantKinds
        The recipe's own kinds.
    known : callable
        Finds other kinds by code or name, None if there is none.
    near : callable
        Names that a misspelt one may stand for.
    """

    def __init__(
        self,
        reader: Reader,
        own: PlantKinds,
        known: Callable[[str], PlantKind | None],
        near: Callable[[str], Sequence[str]],
    ) -> None:
        self._reader, self._own, self._known, self._near = reader, own, known, near
        self._called: dict[PlantKind, str] = {}

    def species(self, word: str, path: Path) -> str:
        """Return a plant's name as it was first written, noting it if nobody knows it."""
        kind = self._own.find(word) or (self._known(word) if word else None)
        if kind is not None:
            return self._called.setdefault(kind, word)
        near = list(dict.fromkeys([*self._own.near(word), *self._near(word)]))[:4]
        hint = f"; did you mean {' or '.join(near)}?" if near else "."
        named = f"'{word[:60]}' is no plant" if word else "is empty; it is no plant"
        self._reader.fault(path, f"{named} that the farm or farmmap knows{hint} A [[kind]] brings in another")
        return word

    def zones(self, value: object) -> tuple[Zone, ...]:
        """Return the zones, from the water outwards."""
        inside = self._reader.tables(value, ("zone",))
        for number, (table, path) in enumerate(inside, 1):
            name = table.get("name") if isinstance(table, dict) else None
            if isinstance(name, str) and name.strip():
                self._reader.titles[path] = f"zone {number} '{name.strip()[:60]}'"
        zones = [self._zone(table, path, len(inside) == 1) for table, path in inside]
        named: dict[str, int] = {}
        for number, (zone, (_, path)) in enumerate(zip(zones, inside, strict=True), 1):
            if named.setdefault(zone.name, number) != number:
                self._reader.fault((*path, "name"), f"zone {named[zone.name]} has that name already; choose another")
        return tuple(self._evened_widths(zones, [path for _, path in inside]))

    def _zone(self, value: object, path: Path, alone: bool) -> Zone:
        said = self._reader.table(value, ZONE, path)
        pattern = self._pattern(said)
        between, within = self._spacing(said, pattern) if pattern else (0.0, 0.0)
        if pattern is Pattern.NONE and "plant" in said.named:
            self._reader.fault((*path, "plant"), "nothing is planted in a zone left in grass; take it out")
        elif pattern and pattern is not Pattern.NONE and "plant" not in said.named:
            self._reader.fault(path, 'has no plants; add a [[zone.plant]], or pattern = "none" to leave it in grass')
        rest = {key: said.sound[key] for key in ("groups_of", "headland_m", "turn_m") if key in said.sound}
        zone = Zone(
            said.text("name") or self._unnamed(path),
            self._share_of_margin(said, alone),
            said.number("width_m"),
            pattern or Pattern.ROWS,
            between,
            within,
            self._mix(said),
            reason=said.text("reason"),
            harvest=said.text("harvest"),
        )
        return dataclasses.replace(zone, **rest)  # type: ignore[arg-type]  # as their keys are described

    def _share_of_margin(self, said: Said, alone: bool) -> float | None:
        ways = {"share", "percent", "width_m"} & said.named
        if not ways and alone:
            return 1.0
        if not ways:
            self._reader.fault(said.path, "does not say how wide it is; give share, percent or width_m")
        elif "width_m" in ways and len(ways) > 1:
            self._reader.fault(said.path, "gives both a share of the margin and a width; keep one of them")
        return _share(self._reader, said)

    def _pattern(self, said: Said) -> Pattern | None:
        """Return how the plants stand, None if what was written is no pattern."""
        if "pattern" not in said.named:
            return Pattern.ROWS
        if "pattern" not in said.sound:
            return None
        word = self._reader.word(said.text("pattern"), PATTERNS, (*said.path, "pattern"), "pattern")
        return PATTERNS[word] if word else None

    @staticmethod
    def _unnamed(path: Path) -> str:
        place = path[-1]
        return f"zone {place + 1}" if isinstance(place, int) else "zone 1"

    def _spacing(self, said: Said, pattern: Pattern) -> tuple[float, float]:
        """Return the distances between and within rows; 0 where they cannot be told."""
        given = [key for key in _SPACINGS if key in said.named]
        fault = self._reader.fault
        if pattern is Pattern.NONE:
            if given:
                fault((*said.path, given[0]), "nothing is planted in a zone left in grass; take the spacing out")
            return 0.0, 0.0
        if "spacing_m" in given and len(given) > 1:
            fault(said.path, f"gives spacing_m and {given[1]}; keep spacing_m, or between_m and within_m")
        spacing = said.number("spacing_m")
        if "spacing_m" in given:
            return spacing or 0.0, spacing or 0.0
        between, within = said.number("between_m"), said.number("within_m")
        if pattern in {Pattern.ROWS, Pattern.CONTOUR}:
            missing = [key for key in ("between_m", "within_m") if key not in given]
            if missing:
                fault(said.path, f"has no {' and no '.join(missing)}: metres from row to row and from plant to plant")
        elif not given:
            fault(said.path, "has no spacing_m: metres from plant to plant")
        elif between is not None and within is not None and between != within:
            fault(said.path, f"is {pattern.value}: between_m {between:g} and within_m {within:g} must be the same")
        else:
            return between or within or 0.0, within or between or 0.0
        return between or 0.0, within or 0.0

    def _mix(self, said: Said) -> tuple[Kin, ...]:
        if "plant" not in said.sound:
            return ()
        reader = self._reader
        inside = reader.tables(said.raw("plant"), (*said.path, "plant"))
        mix: list[Kin] = []
        plants = [(reader.table(value, PLANT, path), path) for value, path in inside]
        sound = all(isinstance(value, dict) for value, _ in inside)
        for told, path in plants if sound else []:
            share = _share(reader, told)
            if share is None and len(inside) == 1 and not {"share", "percent"} & told.named:
                share = 1.0
            elif share is None and not {"share", "percent"} & told.named:
                reader.fault(path, "has no share; give share, a part of 1, or percent")
            sound = sound and share is not None
            if "species" not in told.named:
                reader.fault(path, "has no species; give the code or name of the plant")
            word = told.text("species")
            if "species" in told.sound:
                word = self.species(word, (*path, "species"))
            stock = "seedling"
            if "stock" in told.sound:
                stock = reader.word(told.text("stock"), STOCKS, (*path, "stock"), "stock that can be planted") or stock
            if word and any((kin.species, kin.stock) == (word, stock) for kin in mix):
                reader.fault(path, f"{word} as {stock} stands in this zone already; put both shares together")
            mix.append(Kin(word, share or 0.0, stock, told.text("reason")))
        if not inside and said.raw("plant") == []:
            reader.fault((*said.path, "plant"), 'is empty; add a plant, or pattern = "none" to leave the zone in grass')
        return self._evened_mix(mix, (*said.path, "plant")) if sound and mix else tuple(mix)

    def _evened_mix(self, mix: list[Kin], path: Path) -> tuple[Kin, ...]:
        """Return the mix with shares that add up to 1, noting it if they are further off than rounding explains."""
        total = sum(kin.share for kin in mix)
        if abs(total - 1) > ROUNDING + 1e-9:
            told = " + ".join(f"{kin.share:.4g}" for kin in mix[:12]) + (" + …" if len(mix) > 12 else "")
            off = f"{abs(total - 1):.4g} too {'much' if total > 1 else 'little'}"
            self._reader.fault(path, f"the shares of the mix add up to {total:.4g}, not 1 ({told}): {off}")
        elif abs(total - 1) > 1e-9:
            return tuple(dataclasses.replace(kin, share=kin.share / total) for kin in mix)
        return tuple(mix)

    def _evened_widths(self, zones: list[Zone], paths: list[Path]) -> list[Zone]:
        """Return zones whose shares of the width add up to no more than 1, noting it if they are too many."""
        total = sum(zone.share or 0.0 for zone in zones)
        if total > 1 + ROUNDING + 1e-9:
            running = list(itertools.accumulate(zone.share or 0.0 for zone in zones))
            place = next(place for place, so_far in enumerate(running) if so_far > 1 + ROUNDING + 1e-9)
            line_of = next((key for key in ("share", "percent") if (*paths[place], key) in self._reader.lines), "share")
            self._reader.fault(
                (*paths[place], line_of),
                f"the zones' shares of the margin's width add up to {total:.4g}; 1 (100 %) is all there is",
            )
        elif total > 1 + 1e-9:
            return [z if z.share is None else dataclasses.replace(z, share=z.share / total) for z in zones]
        return zones


def _share(reader: Reader, said: Said) -> float | None:
    """Return a share that was given as a part of 1 or in per cent."""
    share, percent = said.number("share"), said.number("percent")
    if {"share", "percent"} <= said.named:
        reader.fault((*said.path, "percent"), "share and percent are both given; keep one of them")
    return share if percent is None else percent / 100
