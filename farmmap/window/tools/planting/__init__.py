"""Planning a planting along a creek: the tool on the map, and its box beside it."""

from farmmap.window.map_tool import ToolKind

PLANT = ToolKind(
    "Plant",
    "Plan a planting along a creek: how wide, what grows where, fence, order and cost",
    "farmmap.window.tools.planting.tool:PlantTool",
    place=65,
    key="F10",
)
