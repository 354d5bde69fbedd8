"""Catalogue of the figures that come from sample plots."""

from farmmap.figures.figure import Figure

PRACTICE = "common practice of the trade; no single publication"
FREESE = "F. Freese (1962), Elementary Forest Sampling, USDA Agriculture Handbook 232"
COCHRAN = "W. G. Cochran (1977), Sampling Techniques, 3rd edition"
MEMORY = " (cited from memory, not read again)"
INTERVAL = (
    "ȳ ± t·SE with Student's t: plots at random SE = s/√n and n − 1 degrees of freedom; plots in parts of the block "
    "SE² = ΣW²·s²/n and Satterthwaite's degrees of freedom"
)
INTERVAL_WORDS = (
    "If the plots were laid out again and again, about 95 of 100 such intervals would hold the block's true figure. "
    "Plots on a grid are treated as random, which is usually too wide. An end below 0 is shown as 0."
)

SE = "s/√n over n plots at random; √(ΣW²·s²/n) over parts of area share W"
RATIO = (
    "√(40 000·R/π) at both ends of R ± t·SE(R), R = ΣG/ΣN over the n plots, "
    "SE(R) = √(Σ(G − R·N)²/(n·(n − 1)))/N̄, n − 1 degrees of freedom; not told for plots in parts"
)
RATIO_SE = "SE(R)·Dq/(2·R), R = ΣG/ΣN over the plots and SE(R) that of a ratio; not told for plots in parts"


def _ends(name: str, short: str, unit: str, places: int, interval: str = INTERVAL, se: str = SE) -> tuple[Figure, ...]:
    """Return both ends of an interval and the standard error of a figure."""
    source = f"{FREESE}; {COCHRAN}{MEMORY}"
    ends = (("low", "from", "Lower"), ("high", "to", "Upper"))
    return (
        *(
            Figure(
                f"{name}_{end}",
                f"{which} end of the 95 % interval of {short.lower()}",
                f"{short} {heading}",
                "",
                unit,
                interval,
                INTERVAL_WORDS,
                source,
                places,
            )
            for end, heading, which in ends
        ),
        Figure(
            f"{name}_se",
            f"Standard error of {short.lower()}",
            f"{short} SE",
            "SE",
            unit,
            se,
            "How far the estimate would swing if the plots were laid out again and again.",
            source,
            places,
        ),
    )


PLOT_FIGURES = (
    Figure(
        "counted",
        "What the figures rest on",
        "Counted",
        words="“mapped trees” where trees are on the map; else how many sample plots, and half of the 95 % interval "
        "of basal area (of stems where no diameters were taken) in per cent of the estimate.",
    ),
    Figure("plot", "Sample plot", "Plot", words="Name or number of the sample plot."),
    Figure("plot_size", "Kind and size of the plot", "Size", words="Circle, strip or angle count, on the level."),
    Figure(
        "design",
        "How the plots were laid out",
        "Laid out",
        words="Random: anywhere on the net ground with equal chance. Grid: at equal distances from a random start. "
        "Stratified: at random within each of several parts. By hand: where somebody chose, which no interval allows "
        "for.",
    ),
    Figure(
        "plots", "Measured plots", "Plots", "n", "", "number of plots measured by the day",
        "Plots with a day of measurement, or with trees counted in them.", PRACTICE, 0, "n = {plots}",
    ),
    Figure(
        "plots_waiting", "Plots not measured yet", "To do", "", "", "plots laid out, less those measured by the day",
        "They add nothing to the estimate.", PRACTICE, 0,
    ),
    Figure(
        "trees_counted", "Trees counted", "Trees", "", "", "number of trees counted in the plots",
        "Each tree once, whatever it counts for.", PRACTICE, 0,
    ),
    *_ends("stems_per_ha", "Stems", "/ha", 0),
    *_ends("basal_area_m2_per_ha", "Basal area", "m²/ha", 1),
    *_ends("qmd_cm", "Quad. mean", "cm", 1, RATIO, RATIO_SE),
    Figure(
        "error_percent",
        "Sampling error",
        "Error ±",
        "E",
        "%",
        "100 × t·SE ÷ ȳ",
        "Half of the 95 % interval in per cent of the estimate: of basal area, or of stems where no diameters were "
        "taken.",
        FREESE + MEMORY,
        1,
    ),
    Figure(
        "plots_needed",
        "Plots needed for ±10 %",
        "For ±10 %",
        "n₁₀",
        "",
        "least n with t²·CV² ÷ E² ≤ n, E = 10 %, t of n − 1 degrees of freedom",
        "How many such plots in all would bring basal area (stems where no diameters were taken) to ±10 %, if further "
        "plots differ as much as those measured do. With few plots it is itself a rough guess.",
        FREESE + ", by trying" + MEMORY,
        0,
    ),
    Figure(
        "plots_more", "Further plots for ±10 %", "More", "", "", "plots needed − plots measured",
        "How many plots to add to those that are measured.", FREESE + MEMORY, 0,
    ),
    Figure(
        "inside_percent",
        "Share of the plot inside",
        "Inside",
        "",
        "%",
        "100 × ground of the plot inside the block's net ground ÷ ground of the plot",
        "Where it is less than 100 the edge cuts the plot, and trees near the edge need to be counted twice by the "
        "walkthrough rule: walk from the middle to the tree and as far again; if that ends outside, it counts twice. "
        "A plot is never moved inwards, as trees at the edge would then be counted too seldom.",
        "M. J. Ducey, J. H. Gove and H. T. Valentine (2004), A walkthrough solution to the boundary overlap problem, "
        "Forest Science 50, 427" + MEMORY,
        0,
    ),
    Figure(
        "next_bearing_deg", "Bearing from the plot before", "Bearing", "", "°",
        "direction from the plot before, clockwise from true north",
        "True north, not the needle's: set the declination of your place on the compass. In local coordinates from the "
        "grid's own north.", PRACTICE, 0,
    ),
    Figure(
        "next_m", "Distance from the plot before", "Distance", "", "m", "level distance from the plot before",
        "On the level; on a slope the tape is longer by 1/cos(slope).", PRACTICE, 1,
    ),
    Figure(
        "walk_m", "Walk in all", "Walk", "", "m", "sum of the distances so far",
        "In the order in which they are listed.", PRACTICE, 0,
    ),
)  # fmt: skip
