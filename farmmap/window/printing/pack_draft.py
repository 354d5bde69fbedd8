"""What is chosen for a pack in the window, and how it is kept with the farm."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from farmmap.editing.kept_sheets import KeptSheet, free_name, kept_sheets, sheet_changed, sheet_kept
from farmmap.editing.pack_parts import kept_parts, parts_kept
from farmmap.errors import BadInput
from farmmap.farm.edits import Change, Edit
from farmmap.farm.farm import Farm
from farmmap.plans.planting.keeping.kept import kept_plans
from farmmap.sheets.chosen import PACK
from farmmap.sheets.pack.options import PackOptions
from farmmap.sheets.pack.parts import PARTS

DETAILS = ("title", "applicant", "scheme", "reference", "property_id", "author", "version", "paper", "look")
"""Choices that are kept in the table of sheets, as the table of parts has no columns for them."""


@dataclass(frozen=True)
class PackDraft:
    """A pack as it is chosen.

    Attributes
    ----------
    pack : str
        Its name.
    plans : tuple of str
        Planting plans that it is for.
    order : tuple of str
        Keys of all parts, in the order in which they are printed.
    taken : frozenset of str
        Those that are printed.
    texts : mapping of str to str
        The grower's own words by part.
    details : mapping of str to str
        The other texts of `PackOptions`, by its names.
    """

    pack: str = "Application"
    plans: tuple[str, ...] = ()
    order: tuple[str, ...] = tuple(PARTS)
    taken: frozenset[str] = frozenset(PARTS)
    texts: Mapping[str, str] = field(default_factory=dict[str, str])
    details: Mapping[str, str] = field(default_factory=dict[str, str])

    def with_text(self, part: str, text: str) -> PackDraft:
        """Return it with other words for a part."""
        texts = {key: words for key, words in self.texts.items() if key != part}
        return replace(self, texts=texts | ({part: text} if text.strip() else {}))

    def with_detail(self, name: str, text: str) -> PackDraft:
        """Return it with another detail."""
        details = {key: said for key, said in self.details.items() if key != name}
        return replace(self, details=details | ({name: text} if text.strip() else {}))

    def options(self, folder: Path | None) -> PackOptions:
        """Return it as what a pack is put together from.

        Parameters
        ----------
        folder : Path or None
            Folder of the farm file.
        """
        return PackOptions(
            plans=self.plans,
            parts=tuple(part for part in self.order if part in self.taken),
            folder=folder,
            texts={part: self.texts.get(part, "") for part in self.order},
            pack=self.pack,
            **{name: text for name, text in self.details.items() if name in DETAILS and text},  # type: ignore[arg-type]
        )


def draft_of(farm: Farm, pack: str = "Application") -> PackDraft:
    """Return a pack as the farm keeps it; with the newest plan and all parts if it keeps none."""
    plans = tuple(plan.name for plan in kept_plans(farm))
    parts = [one for one in kept_parts(farm, pack) if one.part in PARTS]
    order = tuple(dict.fromkeys([*(one.part for one in parts), *PARTS]))
    taken = frozenset(one.part for one in parts if one.taken) if parts else frozenset(PARTS)
    texts = {one.part: one.text for one in parts if one.text}
    kept = _details(farm, pack)
    chosen = kept.choices if kept is not None else {}
    named = chosen.get("plans")
    there = tuple(name for name in named if name in plans) if isinstance(named, list) else plans[-1:]
    details = {name: text for name in DETAILS if isinstance(text := chosen.get(name), str) and text}
    return PackDraft(pack, there, order, taken, texts, details)


def pack_edit(farm: Farm, draft: PackDraft) -> Edit:
    """Return the edit that keeps a pack.

    Raises
    ------
    BadInput
        It is kept already, just so, or a text cannot be kept.
    """
    changes: dict[str, Change] = {}
    now = draft_of(farm, draft.pack)
    parts = (draft.order, draft.taken, dict(draft.texts))
    if parts != (now.order, now.taken, dict(now.texts)) or not kept_parts(farm, draft.pack):
        taken = [part for part in draft.order if part in draft.taken]
        changes |= parts_kept(farm, draft.pack, draft.order, taken, draft.texts).edit.changes
    said = {"what": PACK, "of": draft.pack, "plans": list(draft.plans), **draft.details}
    kept = _details(farm, draft.pack)
    if kept is None:
        changes |= sheet_kept(farm, free_name(farm, f"Pack: {draft.pack}"), said).edit.changes
    elif kept.choices != said:
        changes |= sheet_changed(farm, kept.id, said).edit.changes
    if not changes:
        raise BadInput(f"the pack {draft.pack} is kept already, just as it is")
    return Edit(f"Keep pack {draft.pack}", changes)


def _details(farm: Farm, pack: str) -> KeptSheet | None:
    found = (sheet for sheet in kept_sheets(farm) if sheet.choices.get("what") == PACK)
    return next((sheet for sheet in found if sheet.choices.get("of") == pack), None)
