"""Catalogue of the figures of room: density of blocks, and competition of single trees."""

from farmmap.figures.catalogue_blocks import MEMORY, PRACTICE
from farmmap.figures.figure import Figure

REINEKE = (
    "L. H. Reineke (1933), Perfecting a stand-density index for even-aged forests, Journal of Agricultural Research "
    "46, 627–638"
)
HEGYI = (
    "F. Hegyi (1974), A simulation model for managing jack-pine stands, in J. Fries (ed.), Growth models for tree and "
    "stand simulation, Stockholm, 74–90"
)
CELLS = (
    "G. S. Brown (1965), Point density in stems per acre, N.Z. Forest Service Research Notes 38 (area potentially "
    "available)"
) + MEMORY

ROOM_FIGURES = (
    Figure(
        "stand_density_index",
        "Stand density index at 25.4 cm",
        "Density index",
        "SDI",
        "/ha",
        "N·(Dq ÷ 25.4 cm)^1.605",
        "Stems for each hectare that would be as dense at a mean diameter of 25.4 cm (ten inches), the diameter of the "
        "publication. N counts the stems that were measured.",
        REINEKE,
        0,
        "SDI = {measured_stems_per_ha:.1f} /ha × ({qmd_cm:.2f} ÷ 25.4)^1.605 = {stand_density_index:.1f} /ha",
    ),
    Figure(
        "stand_density_index_25",
        "Stand density index at 25 cm",
        "Index at 25 cm",
        "SDI₂₅",
        "/ha",
        "N·(Dq ÷ 25 cm)^1.605",
        "The same at 25 cm, as some metric tables have it: 1.0258 times the one at 25.4 cm.",
        REINEKE + "; 25 cm: common practice in metric tables",
        0,
        "SDI₂₅ = {measured_stems_per_ha:.1f} /ha × ({qmd_cm:.2f} ÷ 25)^1.605 = {stand_density_index_25:.1f} /ha",
    ),
    Figure(
        "summed_density_index",
        "Stand density index, tree by tree",
        "Summed index",
        "ΣSDI",
        "/ha",
        "Σ(d ÷ 25.4 cm)^1.605 ÷ Anet",
        "Added up over the stems, for blocks of uneven sizes; never above the one from the mean diameter.",
        "J. N. Long and T. W. Daniel (1990), Western Journal of Applied Forestry 5, 93–96" + MEMORY,
        0,
    ),
    Figure(
        "relative_density",
        "Relative density",
        "Relative density",
        "RD",
        "",
        "G ÷ √Dq, with G in m²/ha and Dq in cm",
        "In ft²/acre and inches the same stand has another number.",
        "R. O. Curtis (1982), A simple index of stand density for Douglas-fir, Forest Science 28, 92–94" + MEMORY,
        2,
        "RD = {basal_area_m2_per_ha:.2f} ÷ √{qmd_cm:.2f} = {relative_density:.3f}",
    ),
    Figure(
        "mean_spacing_m",
        "Mean spacing",
        "Spacing",
        "a",
        "m",
        "√(10 000 ÷ N)",
        "Distance between trees if they stood on squares; on equal triangles 1.0746 times as much.",
        PRACTICE,
        1,
        "a = √(10 000 ÷ {stems_per_ha:.1f}) = {mean_spacing_m:.2f} m",
    ),
    Figure(
        "relative_spacing_percent",
        "Relative spacing",
        "Relative spacing",
        "S%",
        "%",
        "100·√(10 000 ÷ N) ÷ h₁₀₀",
        "Mean spacing on squares in percent of top height. On equal triangles, as Becking has it, it is 1.0746 times "
        "as much.",
        "H. M. J. Hart (1928), Stamtal en dunning; J. H. Becking (1954)" + MEMORY,
        1,
        "S% = 100 × {mean_spacing_m:.2f} m ÷ {top_height_m:.2f} m = {relative_spacing_percent:.2f} %",
    ),
    Figure(
        "crown_competition_percent",
        "Crown competition factor",
        "Crown comp.",
        "CCF",
        "%",
        "100·Σ(π·k² ÷ 4) ÷ Anet",
        "Ground that the measured trees' crowns would take if each stood free, in percent of the net area; k is the "
        "crown that goes with the stem by the species' own figures. Above 100 % not all can have the room of a free "
        "tree.",
        "J. E. Krajicek, K. A. Brinkman and S. F. Gingrich (1961), Crown competition – a measure of density, Forest "
        "Science 7, 35–42" + MEMORY,
        0,
    ),
    Figure(
        "crown_to_stem",
        "Crown in stem diameters",
        "Crown : stem",
        "k/d",
        "",
        "median of k ÷ d over the trees whose crown was measured",
        "How many stem diameters wide a crown is. 24 to 27 is usual for free-standing broadleaves, about 20 in stands.",
        "H. C. Dawkins (1963), Commonwealth Forestry Review 42, 318–333" + MEMORY + "; Coombes, Martin and Slater "
        "(2019), Urban Forestry and Urban Greening 44, 126421",
        1,
    ),
    Figure(
        "evenness",
        "Evenness of spacing",
        "Evenness",
        "R",
        "",
        "mean distance to the nearest tree ÷ that at random",
        "1 if trees stand at random, less in clumps, more if they keep apart; 2.15 on equal triangles. Corrected for "
        "the edge of the block after Donnelly.",
        "P. J. Clark and F. C. Evans (1954), Ecology 35, 445–453; edge: K. P. Donnelly (1978)" + MEMORY,
        2,
    ),
    Figure(
        "apart_m",
        "Distance",
        "Distance",
        "L",
        "m",
        "level distance between the stems",
        "From the tree that is looked at to its neighbour.",
        PRACTICE,
        1,
    ),
    Figure(
        "bearing_deg",
        "Bearing",
        "Bearing",
        "",
        "°",
        "clockwise from true north",
        "Direction from the tree that is looked at to its neighbour; from the grid's north on a local grid.",
        PRACTICE,
        0,
    ),
    Figure(
        "share_percent",
        "Share of the competition",
        "Share",
        "",
        "%",
        "100·(d_j ÷ d_i ÷ L) ÷ CI",
        "Part that this neighbour has in all that holds the tree back.",
        HEGYI,
        0,
        "100 × ({dbh_cm:.1f} ÷ {own_dbh_cm:.1f} ÷ {apart_counted_m:.2f}) ÷ {index_whole:.3f} = {share_percent:.1f} %",
    ),
    Figure(
        "index_left",
        "Competition left without it",
        "Index left",
        "CI",
        "",
        "Σ (d_j ÷ d_i) ÷ L over the other trees within reach, L in m",
        "What is left of the competition index if this neighbour is taken out. Larger is more competition. Trees "
        "nearer than 0.1 m count as 0.1 m apart.",
        HEGYI,
        2,
        "CI = {index_whole:.3f} − {index_part:.3f} = {index_left:.3f}",
    ),
    Figure(
        "space_gained_m2",
        "Growing space gained",
        "Space gained",
        "",
        "m²",
        "own cell without the neighbour − own cell now",
        "The tree's own cell is the ground of its block that is nearer to it than to any other tree of the block.",
        CELLS,
        1,
        "{space_after_m2:.2f} m² − {space_m2:.2f} m² = {space_gained_m2:.2f} m²",
    ),
    Figure(
        "crown_freed_m2",
        "Crown freed",
        "Crown freed",
        "",
        "m²",
        "part of the tree's own crown that only this neighbour's crown overlaps",
        "Crowns are taken as circles, measured or estimated from the stem.",
        "plane geometry",
        1,
    ),
    Figure(
        "crown_freed_percent",
        "Crown freed, of its own",
        "Of its crown",
        "",
        "%",
        "100·(crown freed) ÷ (own crown)",
        "The same in percent of the tree's own crown.",
        "plane geometry",
        0,
    ),
)
