"""Catalogue of the figures of the ground of blocks."""

from farmmap.figures.figure import Figure

PRACTICE = "common practice of the trade; no single publication"
HORN = "B. K. P. Horn (1981), Hill shading and the reflectance map, Proceedings of the IEEE 69, 14–47"
JENNESS = (
    "J. S. Jenness (2004), Calculating landscape surface area from digital elevation models, Wildlife Society "
    "Bulletin 32, 829–839"
)
MARDIA = "circular mean: K. V. Mardia and P. E. Jupp (2000), Directional Statistics"
SLOPE = (
    "The steepness of each cell of the elevation grid, from the eight cells around it. It depends on the size of the "
    "cells: a finer grid finds steeper ground. "
)
WEIGHED = "Cells at the edge count by the share of them inside the block."

GROUND_FIGURES = (
    Figure(
        "mean_slope_deg",
        "Mean slope",
        "Mean slope",
        "β",
        "°",
        "Σ w·arctan √(p² + q²) ÷ Σ w, with p and q the rise of a cell towards east and north, w the share of it inside",
        SLOPE + WEIGHED,
        HORN,
        1,
        "β = {mean_slope_deg:.2f}°",
    ),
    Figure(
        "max_slope_deg",
        "Steepest slope",
        "Steepest",
        "βmax",
        "°",
        "largest arctan √(p² + q²) among cells at least half inside",
        SLOPE,
        HORN,
        1,
        "βmax = {max_slope_deg:.2f}°",
    ),
    Figure(
        "steep_percent",
        "Share that is steep",
        "Steep",
        "",
        "%",
        "100 · area of cells at least as steep as the limit ÷ area of all cells",
        "Ground where machines need care; the limit is 15° unless another is set. Very steep ground is part of it. "
        + WEIGHED,
        HORN + "; the limit is common practice",
        0,
        "from {steep_from_deg}° on: {steep_percent:.2f} %",
    ),
    Figure(
        "very_steep_percent",
        "Share that is very steep",
        "Very steep",
        "",
        "%",
        "100 · area of cells at least as steep as the limit ÷ area of all cells",
        "Ground for work on foot, and liable to slip; the limit is 25° unless another is set. " + WEIGHED,
        HORN + "; the limit is common practice",
        0,
        "from {very_steep_from_deg}° on: {very_steep_percent:.2f} %",
    ),
    Figure(
        "main_aspect",
        "Main aspect",
        "Faces",
        formula="circular mean of the directions down the steepest slope",
        words="The way most of the ground faces: flat if more than half of it is flatter than 2°, several ways if the "
        "directions cancel out.",
        source=f"{HORN}; {MARDIA}",
    ),
    Figure(
        "aspect_deg",
        "Main aspect in degrees",
        "Aspect",
        "",
        "°",
        "circular mean of the directions down the steepest slope, clockwise from true north",
        "From the north of the plan where the farm is measured from a corner post.",
        f"{HORN}; {MARDIA}",
        0,
        "{aspect_deg:.1f}°",
    ),
    Figure(
        "lowest_m",
        "Lowest ground",
        "Lowest",
        "",
        "m",
        "least height of the cells at least half inside",
        "Height as the elevation grid counts it, as a rule above mean sea level.",
        PRACTICE,
        0,
        "{lowest_m:.2f} m",
    ),
    Figure(
        "highest_m",
        "Highest ground",
        "Highest",
        "",
        "m",
        "greatest height of the cells at least half inside",
        "Height as the elevation grid counts it, as a rule above mean sea level.",
        PRACTICE,
        0,
        "{highest_m:.2f} m",
    ),
    Figure(
        "surface_area_ha",
        "Surface",
        "Surface",
        "S",
        "ha",
        "A · Σ w·s ÷ Σ w, with s the surface of a cell over its level area",
        "Area along the slope, from the eight triangles between the middle of a cell and its neighbours. Rates per "
        "hectare use the level area, as plots and planting distances do.",
        JENNESS,
        4,
        "S = {surface_area_ha:.4f} ha on a level area of {gross_area_ha} ha",
    ),
    Figure(
        "above_creek_m",
        "Height above the creek",
        "Above creek",
        "",
        "m",
        "mean of (height of a cell − height of the ground at the nearest point of the nearest creek)",
        "How high the block lies over its creek on the average, at up to about 2,500 places of it. Below nought where "
        "it lies lower than the creek. Creeks that are only planned do not count.",
        PRACTICE,
        1,
        "{above_creek_m:.2f} m",
    ),
    Figure(
        "above_creek_least_m",
        "Least height above the creek",
        "Above creek, least",
        "",
        "m",
        "least of (height of a cell − height of the ground at the nearest point of the nearest creek)",
        "How far the creek must rise to reach the block, by these heights; no forecast of floods.",
        PRACTICE,
        1,
        "{above_creek_least_m:.2f} m",
    ),
    Figure(
        "heights_percent",
        "Share with heights",
        "With heights",
        "",
        "%",
        "100 · area of cells with a slope ÷ area of the block",
        "How much of the block the elevation grid covers.",
        PRACTICE,
        0,
        "{heights_percent:.2f} %",
    ),
    Figure(
        "steep_from_deg",
        "Steep from",
        "Steep from",
        "",
        "°",
        "",
        "From this slope on ground is called steep.",
        PRACTICE,
        0,
    ),
    Figure(
        "very_steep_from_deg",
        "Very steep from",
        "Very steep from",
        "",
        "°",
        "",
        "From this slope on ground is called very steep.",
        PRACTICE,
        0,
    ),
)
