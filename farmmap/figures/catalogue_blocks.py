"""Catalogue of the figures of blocks and of the whole farm."""

from farmmap.figures.figure import Figure

PRACTICE = "common practice of the trade; no single publication"
MEMORY = " (cited from memory, not read again)"
KARNEY = (
    "C. F. F. Karney (2013), Algorithms for geodesics, Journal of Geodesy 87, 43–55; worked out by PROJ's geodesics"
)
MENSURATION = "T. E. Avery and H. E. Burkhart, Forest Measurements, chapter on basal area" + MEMORY
QMD_SOURCE = (
    "R. O. Curtis and D. D. Marshall (2000), Why quadratic mean diameter?, Western Journal of Applied Forestry 15, 137"
    + MEMORY
)
GROUND = (
    "Ground area as on a level map, on the ellipsoid of the grid's datum, so it does not depend on the grid's scale. "
    "Corners are carried to longitude and latitude and joined by shortest lines."
)
COVER_SOURCE = (
    "crown outlines projected to the ground as areas, counted once where they overlap: common definition of canopy "
    "cover; random crowns: 1 − exp(−λ·a), Stoyan, Kendall and Mecke (1987), Stochastic Geometry and its Applications"
)

BLOCK_FIGURES = (
    Figure("name", "Name", "Name", words="Name of the block, or of the farm."),
    Figure("purpose", "Purpose", "Purpose", words="What the block is grown for."),
    Figure("stage", "Stage", "Stage", words="Whether it stands on the ground or is only planned."),
    Figure(
        "gross_area_ha",
        "Gross area",
        "Gross",
        "A",
        "ha",
        "area inside the outline, less holes",
        GROUND,
        KARNEY,
        4,
        "A = {gross_area_ha} ha",
    ),
    Figure(
        "net_area_ha",
        "Net area",
        "Net",
        "Anet",
        "ha",
        "A − ground under tracks, creeks and hazards inside the block",
        "What can grow trees: the outline less holes, tracks at their full width, creek channels from bank to bank, "
        "and hazards with the ground kept clear to each side. Ground that two of them share is taken out once; "
        "planned ones take nothing out. All rates per hectare use it.",
        PRACTICE + "; area by " + KARNEY,
        4,
        "Anet = {gross_area_ha} ha − {taken_out_ha} ha = {net_area_ha} ha",
    ),
    Figure(
        "taken_out_ha",
        "Ground taken out",
        "Taken out",
        "A − Anet",
        "ha",
        "A − Anet",
        "Tracks, creek channels and hazards inside the block.",
        PRACTICE,
        4,
        "{gross_area_ha} ha − {net_area_ha} ha = {taken_out_ha} ha",
    ),
    Figure(
        "stems",
        "Stems",
        "Stems",
        "n",
        "",
        "number of living trees in the block on the day",
        "Each tree counts once, however many stems it has. Dead and felled trees, planned ones and those planted after "
        "the day do not count. Saplings below breast height and trees not measured do.",
        PRACTICE,
        0,
        "n = {stems}",
    ),
    Figure(
        "stems_per_ha",
        "Stems per hectare",
        "Stems",
        "N",
        "/ha",
        "n ÷ Anet",
        "Stocking: living trees for each hectare of net area.",
        PRACTICE,
        1,
        "N = {stems} ÷ {net_area_ha} ha = {stems_per_ha:.1f} /ha",
    ),
    Figure(
        "basal_area_m2",
        "Basal area",
        "Basal area",
        "ΣG",
        "m²",
        "Σ π·d² ÷ 40 000, with d in cm",
        "Cross-section at breast height of every measured stem, all stems of a tree added up. Trees that were not "
        "measured add nothing, and the share measured is said.",
        MENSURATION,
        3,
        "ΣG = {basal_area_m2:.4f} m² from {diameters} diameters",
    ),
    Figure(
        "basal_area_m2_per_ha",
        "Basal area per hectare",
        "Basal area",
        "G",
        "m²/ha",
        "Σ(π·d² ÷ 40 000) ÷ Anet, with d in cm",
        "Cross-section at breast height of the measured stems for each hectare of net area. Not raised for trees that "
        "were not measured: look at the share measured beside it.",
        MENSURATION,
        2,
        "G = {basal_area_m2:.4f} m² ÷ {net_area_ha} ha = {basal_area_m2_per_ha:.4f} m²/ha",
    ),
    Figure(
        "qmd_cm",
        "Quadratic mean diameter",
        "Quad. mean",
        "Dq",
        "cm",
        "√(Σd² ÷ number of diameters)",
        "Diameter of the stem of mean basal area. Every measured stem is one diameter; where a tree of several "
        "stems has a single diameter, it stands for each of its stems.",
        QMD_SOURCE,
        1,
        "Dq = √({basal_area_m2:.4f} m² × 40 000 ÷ π ÷ {diameters}) = {qmd_cm:.4f} cm",
    ),
    Figure(
        "diameters",
        "Diameters",
        "Diameters",
        "m",
        "",
        "number of stem diameters measured by the day",
        "How many diameters basal area and quadratic mean diameter rest on; a tree of several stems may give several.",
        PRACTICE,
        0,
        "m = {diameters}",
    ),
    Figure(
        "mean_dbh_cm",
        "Mean diameter",
        "Mean dbh",
        "d̄",
        "cm",
        "Σd ÷ number of measured trees",
        "Plain mean of the diameters of the measured trees; a tree of several stems counts with the quadratic mean of "
        "its stems.",
        PRACTICE,
        1,
        "d̄ = {mean_dbh_cm:.4f} cm over {measured} measured trees",
    ),
    Figure(
        "mean_height_m",
        "Mean height",
        "Mean ht",
        "h̄",
        "m",
        "Σh ÷ number of heights",
        "Plain mean of the latest height of every tree that has one.",
        PRACTICE,
        1,
        "h̄ = {mean_height_m:.4f} m over {heights} heights",
    ),
    Figure(
        "heights",
        "Heights",
        "Heights",
        "",
        "",
        "number of trees with a height by the day",
        "How many heights the mean height rests on.",
        PRACTICE,
        0,
        "{heights}",
    ),
    Figure(
        "top_height_m",
        "Top height",
        "Top ht",
        "h₁₀₀",
        "m",
        "plain mean height of the 100·Anet thickest trees",
        "Mean height of the 100 thickest trees for each hectare of net area: 100 times the net area, rounded to a "
        "whole number, at least one. Taken over those of them that have a height; not given if fewer than half have "
        "one. Other definitions are in use and give other numbers.",
        "several definitions are in use: ICP Forests manual, item 73 (100 thickest per hectare, by a height curve); "
        "E. G. Mason (2019), New Zealand Journal of Forestry 64(2), 32 (two that differ). This one is the plain mean",
        1,
        "h₁₀₀ = {top_height_m:.4f} m over the {top_trees} thickest trees, {top_heights} of them with a height",
    ),
    Figure(
        "measured_percent",
        "Share measured",
        "Measured",
        "",
        "%",
        "100 × trees with a diameter ÷ stems",
        "Share of the stems that had a diameter at breast height by the day.",
        PRACTICE,
        0,
        "100 × {measured} ÷ {stems} = {measured_percent:.2f} %",
    ),
    Figure(
        "measured",
        "Measured trees",
        "Measured",
        "",
        "",
        "number of trees with a diameter by the day",
        "Trees with a diameter above nought at breast height, measured on or before the day.",
        PRACTICE,
        0,
        "{measured}",
    ),
    Figure(
        "crown_cover_percent",
        "Crown cover",
        "Cover",
        "",
        "%",
        "100 × area(union of crowns inside the net area) ÷ Anet",
        "Share of the net area that lies under crowns, ground under several crowns counted once. Crowns are round; "
        "those that reach in from trees outside count. Trees with neither a crown nor a diameter have no crown here.",
        COVER_SOURCE,
        1,
        "100 × {crown_area_ha:.6f} ha ÷ {net_area_ha} ha = {crown_cover_percent:.3f} %",
    ),
    Figure(
        "crown_area_ha",
        "Ground under crowns",
        "Under crowns",
        "",
        "ha",
        "area(union of crowns inside the net area)",
        "Ground under crowns, each spot counted once.",
        COVER_SOURCE,
        4,
        "{crown_area_ha} ha",
    ),
    Figure(
        "crown_estimated_percent",
        "Share of crowns estimated",
        "Crowns est.",
        "",
        "%",
        "100 × crowns estimated from a diameter ÷ crowns",
        "A crown that was not measured is estimated from the stem: crown = base + slope × d, with the species' own "
        "base and slope where they are given, else 0.20 m for each cm of stem. For several stems d is √Σd².",
        "crowns of free-standing broadleaves are 24 to 27 stem diameters wide: Coombes, Martin and Slater (2019), "
        "Urban Forestry and Urban Greening 44, 126421; 20 stem diameters is common practice in stands",
        0,
        "{crown_estimated_percent:.2f} %",
    ),
    Figure("species", "Species", "Species", words="Trade name of the species, or its code where no name is given."),
    Figure("code", "Species code", "Code", words="Code of the species, as written in the field."),
    Figure(
        "percent",
        "Share of stems",
        "Share",
        "",
        "%",
        "100 × stems of the species ÷ stems",
        "Share of the block's stems.",
        PRACTICE,
        1,
        "{percent:.2f} %",
    ),
    Figure(
        "from_cm",
        "Class from",
        "From",
        "",
        "cm",
        "",
        "Lower bound of a diameter class; a diameter equal to it belongs to the class.",
        PRACTICE,
        1,
    ),
    Figure(
        "to_cm",
        "Class up to",
        "Below",
        "",
        "cm",
        "",
        "Upper bound of a diameter class; a diameter equal to it belongs to the next class.",
        PRACTICE,
        1,
    ),
)
