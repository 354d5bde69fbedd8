"""Parts and texts of a pack that the farm keeps."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from farmmap.editing.pack_parts import kept_packs, kept_parts, parts_kept
from farmmap.errors import BadInput
from tests.conftest import small_farm

FARM = small_farm()
PARTS = ("summary", "location", "existing", "works", "costs")


@settings(max_examples=15)
@given(
    first=st.permutations(PARTS), taken=st.sets(st.sampled_from(PARTS)),
    second=st.lists(st.sampled_from(PARTS), unique=True, min_size=1),
    words=st.dictionaries(st.sampled_from(PARTS), st.sampled_from(["Ours.", "Since 1961.\n\nAnd on."])),
)  # fmt: skip
def test_what_is_kept_comes_back_and_undone_is_as_before(first, taken, second, words):
    farm = FARM
    edit = parts_kept(farm, "Council", first, tuple(taken), words).edit
    kept = edit.apply(farm)
    found = kept_parts(kept, "COUNCIL")
    assert [one.part for one in found if one.taken] == [part for part in first if part in taken]
    assert {one.part: one.text for one in found if one.text} == words
    assert len(edit.turned_round().apply(kept).tables["pack_parts"]) == 0
    again = parts_kept(kept, "council", second, second, {}).edit.apply(kept)
    assert [one.part for one in kept_parts(again, "Council")] == list(second)
    assert again.tables["pack_parts"].index.is_unique


def test_packs_are_kept_apart():
    farm = FARM
    farm = parts_kept(farm, "Council", PARTS, PARTS[:1], {}).edit.apply(farm)
    farm = parts_kept(farm, "Trust", PARTS, PARTS[1:], {"works": "Ours."}).edit.apply(farm)
    assert kept_packs(farm) == ("Council", "Trust")
    assert [one.part for one in kept_parts(farm, "Council") if one.taken] == ["summary"]
    assert len(kept_parts(farm, "Trust")) == len(PARTS)
    assert kept_parts(farm, "Another") == ()


def test_nothing_new_or_no_name_is_refused():
    farm = FARM
    with pytest.raises(BadInput, match="needs a name"):
        parts_kept(farm, "  ", PARTS, PARTS, {})
    farm = parts_kept(farm, "Council", PARTS, PARTS, {}).edit.apply(farm)
    with pytest.raises(BadInput, match="kept already"):
        parts_kept(farm, "Council", PARTS, PARTS, {})
