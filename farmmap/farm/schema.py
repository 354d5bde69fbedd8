"""The tables of a farm, each described once.

The file, the importers, the panels, the checks and the help all read these
descriptions; to add a column, add it here.
"""

from farmmap.farm.columns import Column, Geometry, Kind, Table
from farmmap.farm.ground_tables import BLOCKS, BOUNDARY, CREEKS, DRAWN_AS, FENCES, HAZARD_KINDS, HAZARDS, TRACKS
from farmmap.farm.growing_tables import PLOT_TREES, PLOTS, PRODUCTS, REGIMES, TARGETS, VOLUMES
from farmmap.farm.page_tables import PACK_PARTS, PHOTO_POINTS, PHOTOS, SHEETS, YES_NO
from farmmap.farm.shared_columns import NOTE, PLAN, STAGE, STAGES

__all__ = [
    "BACKDROPS",
    "BACKDROP_KINDS",
    "BANKS",
    "BLOCKS",
    "BOUNDARY",
    "CREEKS",
    "DRAWN_AS",
    "FENCES",
    "FORMS",
    "HAZARDS",
    "HAZARD_KINDS",
    "MARKS",
    "MEASUREMENTS",
    "NOTES",
    "ORIGINS",
    "PACK_PARTS",
    "PHOTOS",
    "PHOTO_POINTS",
    "PLANS",
    "PLAN_STATES",
    "PLOTS",
    "PLOT_TREES",
    "PRODUCTS",
    "REGIMES",
    "SCHEMA_VERSION",
    "SHEETS",
    "SPECIES",
    "STAGES",
    "STATUSES",
    "STOCKS",
    "TABLES",
    "TARGETS",
    "TRACKS",
    "TREES",
    "VOLUMES",
    "YES_NO",
    "Column",
    "Geometry",
    "Kind",
    "Table",
]

SCHEMA_VERSION = 5
"""Version of the tables below, written into every farm file."""

STATUSES = ("alive", "dead", "felled")
MARKS = ("", "crop", "take")
FORMS = ("", "good", "fair", "poor")
STOCKS = ("", "seed", "natural", "seedling", "rooted cutting", "pole")
ORIGINS = ("", "native", "introduced")
BACKDROP_KINDS = ("picture", "elevation")
BANKS = ("both", "left", "right")
PLAN_STATES = ("kept", "accepted", "planted")

TREES = Table(
    "trees",
    "Trees",
    "tree",
    Geometry.POINT,
    (
        Column(
            "tag",
            Kind.TEXT,
            "what is written on its tag",
            also=("tree", "tree_id", "treeid", "number", "no", "label", "id", "tag_no"),
        ),
        Column(
            "species",
            Kind.TEXT,
            "species (code or name)",
            also=("sp", "spp", "species_code", "code", "marks", "taxon", "scientific_name", "common_name"),
        ),
        Column(
            "planted",
            Kind.WHEN,
            "year or date of planting",
            also=("planted_on", "plant_year", "year_planted", "planting_year", "planting_date"),
        ),
        Column(
            "stock",
            Kind.TEXT,
            "kind of plant: seed, seedling, rooted cutting or pole",
            allowed=STOCKS,
            default="",
            also=("stock_type",),
        ),
        Column(
            "stems",
            Kind.WHOLE,
            "number of stems, 1 if single",
            default=1,
            least=1,
            most=50,
            also=("stem_count", "no_stems"),
        ),
        Column(
            "status",
            Kind.TEXT,
            "alive, dead or felled",
            allowed=STATUSES,
            default="alive",
            also=("state", "alive", "condition"),
        ),
        Column(
            "status_on", Kind.DAY, "day on which it died or was felled", also=("died", "died_on", "felled_on", "felled")
        ),
        STAGE,
        NOTE,
        PLAN,
        Column(
            "mark",
            Kind.TEXT,
            "crop: to be kept to the end; take: to be taken out at the next thinning; empty: left",
            allowed=MARKS,
            default="",
        ),
        Column("form", Kind.TEXT, "straightness and branching of its stem", allowed=FORMS, default=""),
    ),
)

MEASUREMENTS = Table(
    "measurements",
    "Measurements",
    "measurement",
    None,
    (
        Column("tree", Kind.WHOLE, "the tree that was measured", needed=True, points_to="trees"),
        Column(
            "measured_on",
            Kind.DAY,
            "day of the measurement",
            needed=True,
            also=("measured", "date", "survey_date", "day", "survey"),
        ),
        Column("stem", Kind.WHOLE, "which stem of the tree, from 1", default=1, least=1, most=50, also=("stem_no",)),
        Column(
            "dbh_cm",
            Kind.NUMBER,
            "diameter at breast height, over bark",
            "cm",
            least=0.0,
            most=1200.0,
            also=("dbh", "diameter", "diam", "d", "dbhob", "dbh_ob", "d_cm", "diameter_cm"),
        ),
        Column(
            "height_m",
            Kind.NUMBER,
            "total height",
            "m",
            least=0.0,
            most=130.0,
            also=("height", "ht", "h", "total_height", "ht_m"),
        ),
        Column(
            "crown_m",
            Kind.NUMBER,
            "diameter of the crown",
            "m",
            least=0.0,
            most=60.0,
            also=("crown", "crown_diameter", "crown_width", "crown_diameter_m", "crown_width_m", "cw"),
        ),
        Column(
            "pruned_m",
            Kind.NUMBER,
            "height to which it is pruned",
            "m",
            least=0.0,
            most=40.0,
            also=("pruned", "pruned_height", "pruned_height_m"),
        ),
        Column(
            "breast_height_m",
            Kind.NUMBER,
            "height above ground at which the diameter was taken; empty: the farm's own",
            "m",
            least=0.1,
            most=10.0,
        ),
        NOTE,
        Column(
            "dos_cm",
            Kind.NUMBER,
            "largest diameter over the stubs of the lift that was just pruned",
            "cm",
            least=0.0,
            most=100.0,
            also=("dos", "diameter_over_stubs"),
        ),
    ),
)

SPECIES = Table(
    "species",
    "Species",
    "species",
    None,
    (
        Column("code", Kind.TEXT, "short code, as written in the field", needed=True),
        Column("name", Kind.TEXT, "trade name"),
        Column("scientific", Kind.TEXT, "scientific name"),
        Column("origin", Kind.TEXT, "native or introduced where the farm lies", allowed=ORIGINS, default=""),
        Column("crown_base_m", Kind.NUMBER, "crown diameter of the thinnest stem", "m", least=0.0, most=20.0),
        Column("crown_per_cm", Kind.NUMBER, "crown diameter gained for each cm of stem", "m/cm", least=0.0, most=2.0),
        Column("source", Kind.TEXT, "where the crown figures come from"),
        NOTE,
    ),
)

NOTES = Table(
    "notes",
    "Notes",
    "note",
    Geometry.ANY,
    (
        Column("heading", Kind.TEXT, "heading", also=("name", "title")),
        Column("text", Kind.TEXT, "what is to be remembered", also=("note", "desc", "comment")),
        Column("written_on", Kind.DAY, "day it was written", also=("date",)),
        PLAN,
    ),
)

BACKDROPS = Table(
    "backdrops",
    "Backdrops",
    "backdrop",
    None,
    (
        Column("name", Kind.TEXT, "what it is called", needed=True),
        Column(
            "path",
            Kind.TEXT,
            "its file: from the farm file's folder with forward slashes if it lies inside that, else in full",
            needed=True,
        ),
        Column(
            "kind",
            Kind.TEXT,
            "a picture from above, or a grid of ground heights in metres",
            allowed=BACKDROP_KINDS,
            default="picture",
        ),
        Column("shown", Kind.TEXT, "whether it lies under the map", allowed=YES_NO, default="yes"),
        Column(
            "opacity_percent",
            Kind.NUMBER,
            "how strongly it shows",
            "%",
            default=100.0,
            least=0.0,
            most=100.0,
        ),
        Column("grid", Kind.TEXT, "grid of a file that names none, such as EPSG:2193; empty: the farm's own"),
        Column(
            "contour_m",
            Kind.NUMBER,
            "height from one contour to the next; empty: chosen to suit the ground",
            "m",
            least=0.1,
            most=500.0,
        ),
        NOTE,
    ),
)

PLANS = Table(
    "plans",
    "Plans",
    "plan",
    None,
    (
        Column("name", Kind.TEXT, "what it is called; no two are called the same", needed=True),
        Column("creek", Kind.TEXT, "name of the creek along which it lies", needed=True),
        Column("banks", Kind.TEXT, "bank or banks, as seen looking downstream", allowed=BANKS, default="both"),
        Column(
            "from_m",
            Kind.NUMBER,
            "where it begins, along the creek from its top; empty: at the top",
            "m",
            least=0.0,
            most=1e7,
        ),
        Column(
            "to_m",
            Kind.NUMBER,
            "where it ends, along the creek from its top; empty: at the creek's end",
            "m",
            least=0.0,
            most=1e7,
        ),
        Column("recipe", Kind.TEXT, "what is planted and fenced, and how: a recipe as TOML", needed=True),
        Column("made_on", Kind.DAY, "day on which it was made"),
        Column(
            "state",
            Kind.TEXT,
            "kept: only thought out; accepted: its plants stand on the farm as planned; planted: they were planted",
            allowed=PLAN_STATES,
            default="kept",
        ),
        NOTE,
    ),
)

TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        BOUNDARY,
        BLOCKS,
        CREEKS,
        FENCES,
        TRACKS,
        HAZARDS,
        TREES,
        MEASUREMENTS,
        SPECIES,
        NOTES,
        BACKDROPS,
        PLANS,
        TARGETS,
        REGIMES,
        PRODUCTS,
        VOLUMES,
        PLOTS,
        PLOT_TREES,
        PHOTO_POINTS,
        PHOTOS,
        SHEETS,
        PACK_PARTS,
    )
}
"""Every table of a farm by name, in the order in which they are shown."""
