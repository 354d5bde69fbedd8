"""The tables that printed pages keep: places to photograph from, photographs, sheets, and parts of a pack."""

from farmmap.farm.columns import Column, Geometry, Kind, Table
from farmmap.farm.shared_columns import NOTE

YES_NO = ("yes", "no")

_PATH_WORDS = "its file: from the farm file's folder with forward slashes if it lies inside that, else in full"

PHOTO_POINTS = Table(
    "photo_points",
    "Photo points",
    "photo point",
    Geometry.POINT,
    (
        Column(
            "name",
            Kind.TEXT,
            "name or number",
            needed=True,
            also=("photo_point", "photopoint", "point", "number", "no", "label", "title"),
        ),
        Column(
            "bearing_deg",
            Kind.NUMBER,
            "direction in which the camera looks, from grid north",
            "°",
            least=0.0,
            most=360.0,
            also=("bearing", "direction", "azimuth", "heading", "course"),
        ),
        Column(
            "height_m",
            Kind.NUMBER,
            "height of the camera above the ground",
            "m",
            least=0.0,
            most=50.0,
            also=("height", "camera_height", "camera_height_m"),
        ),
        NOTE,
    ),
)

PHOTOS = Table(
    "photos",
    "Photographs",
    "photograph",
    None,
    (
        Column(
            "photo_point",
            Kind.WHOLE,
            "the photo point from which it was taken; empty: none",
            points_to="photo_points",
        ),
        Column("path", Kind.TEXT, _PATH_WORDS, needed=True),
        Column("taken_on", Kind.DAY, "day on which it was taken", also=("taken", "date", "day")),
        Column("caption", Kind.TEXT, "what it shows"),
        NOTE,
    ),
)

SHEETS = Table(
    "sheets",
    "Sheets",
    "sheet",
    None,
    (
        Column("name", Kind.TEXT, "what it is called", needed=True),
        Column("choices", Kind.TEXT, "how it was composed, as JSON", by_program=True),
    ),
)

PACK_PARTS = Table(
    "pack_parts",
    "Parts of packs",
    "part of a pack",
    None,
    (
        Column("pack", Kind.TEXT, "name of the pack", default="Application"),
        Column("part", Kind.TEXT, "which part it is", needed=True),
        Column("place", Kind.WHOLE, "where it stands in the pack, from 1", default=1, least=0, most=1000),
        Column("taken", Kind.TEXT, "whether it is printed", allowed=YES_NO, default="yes"),
        Column("text", Kind.TEXT, "words of the grower's own; empty: farmmap's"),
    ),
)
