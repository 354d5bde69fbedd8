"""The tables of what lies on the ground: boundary, blocks, creeks, fences, tracks and hazards."""

from farmmap.farm.columns import Column, Geometry, Kind, Table
from farmmap.farm.shared_columns import NAME, NOTE, PLAN, STAGE

DRAWN_AS = ("centre line", "left bank", "right bank")
HAZARD_KINDS = ("power line", "building", "pipeline", "drain", "other")

BOUNDARY = Table("boundary", "Boundary", "boundary", Geometry.POLYGON, (NAME, NOTE))

BLOCKS = Table(
    "blocks",
    "Blocks",
    "block",
    Geometry.POLYGON,
    (
        Column(
            "name",
            Kind.TEXT,
            "name of the block",
            needed=True,
            also=("block", "paddock", "compartment", "stand", "label", "title", "cpt"),
        ),
        Column("purpose", Kind.TEXT, "what it is grown for", also=("use", "type", "landuse")),
        Column(
            "planted", Kind.WHEN, "year or date of planting", also=("planted_on", "plant_year", "year_planted", "year")
        ),
        STAGE,
        NOTE,
        PLAN,
    ),
)

CREEKS = Table(
    "creeks",
    "Creeks",
    "creek",
    Geometry.LINE,
    (
        Column(
            "name", Kind.TEXT, "name of the creek", needed=True, also=("creek", "stream", "river", "label", "title")
        ),
        Column(
            "drawn_as",
            Kind.TEXT,
            "what the line follows: the middle of the channel, or one bank; left and right as seen looking downstream",
            allowed=DRAWN_AS,
            default="centre line",
        ),
        Column(
            "flows",
            Kind.TEXT,
            "whether the water runs the way the line was drawn",
            allowed=("as drawn", "against"),
            default="as drawn",
        ),
        Column(
            "channel_m",
            Kind.NUMBER,
            "width of the channel from bank to bank",
            "m",
            default=2.0,
            least=0.0,
            most=500.0,
            also=("channel", "width", "width_m", "channel_width", "channel_width_m"),
        ),
        Column(
            "left_margin_m",
            Kind.NUMBER,
            "width of the margin from the left bank; empty: the farm's own width",
            "m",
            least=0.0,
            most=500.0,
        ),
        Column(
            "right_margin_m",
            Kind.NUMBER,
            "width of the margin from the right bank; empty: the farm's own width",
            "m",
            least=0.0,
            most=500.0,
        ),
        STAGE,
        NOTE,
    ),
)

FENCES = Table(
    "fences",
    "Fences",
    "fence",
    Geometry.LINE,
    (
        NAME,
        Column("build", Kind.TEXT, "how it is built", also=("type", "kind", "fence_type")),
        STAGE,
        NOTE,
        PLAN,
    ),
)

TRACKS = Table(
    "tracks",
    "Tracks",
    "track",
    Geometry.LINE,
    (
        NAME,
        Column(
            "width_m",
            Kind.NUMBER,
            "width that grows no trees",
            "m",
            default=4.0,
            least=0.0,
            most=100.0,
            also=("width",),
        ),
        STAGE,
        NOTE,
    ),
)

HAZARDS = Table(
    "hazards",
    "Hazards",
    "hazard",
    Geometry.ANY,
    (
        NAME,
        Column("kind", Kind.TEXT, "what it is", allowed=HAZARD_KINDS, default="other", also=("type", "hazard")),
        Column(
            "clear_m",
            Kind.NUMBER,
            "ground kept free of trees to each side",
            "m",
            default=0.0,
            least=0.0,
            most=200.0,
            also=("clearance", "clearance_m", "setback_m"),
        ),
        STAGE,
        NOTE,
    ),
)
