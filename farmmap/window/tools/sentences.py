"""Words of edits, notes and errors as sentences."""

from farmmap.errors import FarmmapError


def words_of_error(error: BaseException) -> str:
    """Return why something could not be done, as a sentence."""
    return sentence(str(error)) if isinstance(error, FarmmapError) else "That could not be done."


def within(words: str) -> str:
    """Return the name of an edit as it stands within a sentence: ``draw Block 15``."""
    return words[:1].lower() + words[1:]


def sentence(words: str) -> str:
    """Return words with a capital letter and a full stop."""
    return words[:1].upper() + words[1:] + ("" if words.endswith((".", "?")) else ".")
