"""What farmmap raises when it cannot go on, each in words a grower can act on.

FarmmapError
├── BadInput        a source file, a value or an option that cannot be used
├── FarmFileError   a farm file that is missing, damaged, newer, or cannot be written
├── GridError       a grid that is unknown or of no use for a farm
└── Stopped         the person pressed stop
"""


class FarmmapError(Exception):
    """Base of all errors whose message may be shown as it stands."""


class BadInput(FarmmapError):
    """Something brought in or typed cannot be used; the message says what, where and what to do."""


class FarmFileError(FarmmapError):
    """The farm file is missing, damaged, of a newer version, or cannot be written."""


class GridError(FarmmapError):
    """The grid is unknown, not projected, or not in metres."""


class Stopped(FarmmapError):
    """The work was stopped on request; nothing was changed."""
