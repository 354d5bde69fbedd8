"""Words of edits, notes and errors as sentences."""

from farmmap.errors import FarmmapError
from farmmap.panels.sentences import sentence

__all__ = ["sentence", "within", "words_of_error"]


def words_of_error(error: BaseException) -> str:
    """Return why something could not be done, as a sentence."""
    return sentence(str(error)) if isinstance(error, FarmmapError) else "That could not be done."


def within(words: str) -> str:
    """Return the name of an edit as it stands within a sentence: ``draw Block 15``."""
    return words[:1].lower() + words[1:]
