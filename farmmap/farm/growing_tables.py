"""The tables that thinning, pruning, harvest and sample plots keep: what is aimed at, sold and sampled."""

from farmmap.farm.columns import Column, Geometry, Kind, Table
from farmmap.farm.shared_columns import NOTE

PRODUCT_KINDS = ("pruned log", "sawlog", "pole", "post", "firewood", "mushroom log", "other")
SOLD_BY = ("m3", "piece", "tonne")
VOLUME_KINDS = ("form factor", "power", "table")
LIFT_KINDS = ("clear", "form")
PLOT_DESIGNS = ("by hand", "random", "grid", "stratified")
PLOT_SHAPES = ("circle", "strip", "angle count")

_SPECIES = Column(
    "species", Kind.TEXT, "species (code); empty: every species without a line of its own", also=("sp", "species_code")
)
_SOURCE = Column("source", Kind.TEXT, "where the figures come from")

TARGETS = Table(
    "targets",
    "Targets",
    "target",
    None,
    (
        _SPECIES,
        Column("product", Kind.TEXT, "what it is grown for", also=("use",)),
        Column(
            "dbh_cm",
            Kind.NUMBER,
            "diameter at breast height at which a tree is ready",
            "cm",
            least=1.0,
            most=400.0,
            needed=True,
            also=("target_cm", "target", "diameter"),
        ),
        NOTE,
    ),
)

REGIMES = Table(
    "regimes",
    "Pruning lifts",
    "pruning lift",
    None,
    (
        _SPECIES,
        Column("block", Kind.TEXT, "block that it holds for; empty: every block"),
        Column(
            "kind",
            Kind.TEXT,
            "clear: all branches off up to a height; form: one straight leader up to it",
            allowed=LIFT_KINDS,
            default="clear",
        ),
        Column("lift", Kind.WHOLE, "which lift, from 1", default=1, least=1, most=20),
        Column(
            "to_m",
            Kind.NUMBER,
            "height to which this lift prunes",
            "m",
            least=0.1,
            most=40.0,
            needed=True,
            also=("to",),
        ),
        Column("tree_height_m", Kind.NUMBER, "height of the tree at which it is due", "m", least=0.0, most=130.0),
        Column("dos_cm", Kind.NUMBER, "diameter over the stubs at which it is due", "cm", least=0.0, most=100.0),
        Column("stems_per_ha", Kind.NUMBER, "stems that are pruned; empty: all", "stems/ha", least=0.0, most=10_000.0),
        Column(
            "crown_left_percent",
            Kind.NUMBER,
            "share of the tree's height that keeps its green crown",
            "%",
            least=0.0,
            most=100.0,
        ),
        _SOURCE,
        NOTE,
    ),
)

PRODUCTS = Table(
    "products",
    "Products",
    "product",
    None,
    (
        Column("name", Kind.TEXT, "what it is called", needed=True, also=("product",)),
        Column("kind", Kind.TEXT, "what kind of wood it is", allowed=PRODUCT_KINDS, default="other"),
        _SPECIES,
        Column(
            "small_end_cm",
            Kind.NUMBER,
            "least diameter at the small end, under bark",
            "cm",
            least=0.0,
            most=400.0,
            also=("sed_cm", "sed"),
        ),
        Column("large_end_cm", Kind.NUMBER, "greatest diameter at the large end", "cm", least=0.0, most=400.0),
        Column("length_m", Kind.NUMBER, "length of a piece", "m", least=0.1, most=40.0, also=("length",)),
        Column("per", Kind.TEXT, "what the price is for", allowed=SOLD_BY, default="m3"),
        Column(
            "price",
            Kind.NUMBER,
            "what it brings, in the farm's own money; empty: not known",
            least=-1e7,
            most=1e7,
        ),
        _SOURCE,
        NOTE,
    ),
)

VOLUMES = Table(
    "volumes",
    "Stem volumes",
    "stem volume",
    None,
    (
        _SPECIES,
        Column(
            "kind",
            Kind.TEXT,
            "form factor: a × basal area × height; power: a × dbh_cm^b × height_m^c; "
            "table: one line for each diameter and height",
            allowed=VOLUME_KINDS,
            default="form factor",
        ),
        Column("a", Kind.NUMBER, "form factor, or the equation's a", least=-1e6, most=1e6),
        Column("b", Kind.NUMBER, "the equation's b", least=-20.0, most=20.0),
        Column("c", Kind.NUMBER, "the equation's c", least=-20.0, most=20.0),
        Column("dbh_cm", Kind.NUMBER, "diameter of a line of a table", "cm", least=0.0, most=400.0),
        Column("height_m", Kind.NUMBER, "height of a line of a table", "m", least=0.0, most=130.0),
        Column("volume_m3", Kind.NUMBER, "volume of a line of a table", "m³", least=0.0, most=1e4),
        Column(
            "bark_ratio", Kind.NUMBER, "diameter under bark ÷ diameter over bark; empty: not known", least=0.5, most=1.0
        ),
        Column("density_t_m3", Kind.NUMBER, "basic density of the wood", "t/m³", least=0.1, most=1.3),
        _SOURCE,
        NOTE,
    ),
)

PLOTS = Table(
    "plots",
    "Sample plots",
    "sample plot",
    Geometry.POINT,
    (
        Column("name", Kind.TEXT, "name or number", needed=True, also=("plot", "plot_no", "number", "label")),
        Column("block", Kind.TEXT, "block that it samples"),
        Column("design", Kind.TEXT, "how it was laid out", allowed=PLOT_DESIGNS, default="by hand"),
        Column("shape", Kind.TEXT, "circle, strip or angle count", allowed=PLOT_SHAPES, default="circle"),
        Column("radius_m", Kind.NUMBER, "level radius of a circle", "m", least=0.5, most=100.0, also=("radius",)),
        Column("length_m", Kind.NUMBER, "level length of a strip", "m", least=0.5, most=5_000.0),
        Column("width_m", Kind.NUMBER, "level width of a strip", "m", least=0.5, most=500.0),
        Column(
            "bearing_deg", Kind.NUMBER, "direction in which a strip runs, from grid north", "°", least=0.0, most=360.0
        ),
        Column("baf_m2", Kind.NUMBER, "basal area that a counted tree stands for", "m²/ha", least=0.1, most=100.0),
        Column("slope_deg", Kind.NUMBER, "slope of the ground", "°", least=0.0, most=60.0, also=("slope",)),
        Column("measured_on", Kind.DAY, "day on which it was measured; empty: not yet", also=("date", "visited_on")),
        NOTE,
    ),
)

PLOT_TREES = Table(
    "plot_trees",
    "Trees of plots",
    "tree of a plot",
    None,
    (
        Column("plot", Kind.WHOLE, "the plot in which it was counted", needed=True, points_to="plots"),
        Column("species", Kind.TEXT, "species (code or name)", also=("sp", "species_code")),
        Column("dbh_cm", Kind.NUMBER, "diameter at breast height, over bark", "cm", least=0.0, most=1200.0),
        Column("height_m", Kind.NUMBER, "total height", "m", least=0.0, most=130.0),
        Column("trees", Kind.WHOLE, "how many such trees were counted", default=1, least=1, most=10_000),
        Column(
            "counts",
            Kind.NUMBER,
            "how often each counts: 1; 2 for one that the edge doubles; ½ for one on the line",
            default=1.0,
            least=0.0,
            most=8.0,
        ),
        NOTE,
    ),
)
