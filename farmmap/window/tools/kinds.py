"""The tools that come with farmmap, as the row above the map offers them."""

from farmmap.window.map_tool import ToolChoice, ToolKind

PICK = ToolKind(
    "Pick",
    "Pick things on the map, one or many",
    "farmmap.window.tools.pick:PickTool",
    changes=False,
    place=10,
    key="F2",
)
DRAW = ToolKind(
    "Draw",
    "Draw a block, creek, fence, track, hazard, boundary, note or photo point",
    "farmmap.window.tools.photo_points:draw_tool",
    choices=(
        ToolChoice("block", "Block", "Click its corners"),
        ToolChoice("planned block", "Planned block", "A block that is not planted yet"),
        ToolChoice("creek", "Creek", "Click along it, the way the water flows"),
        ToolChoice("fence", "Fence", "Click along it"),
        ToolChoice("track", "Track", "Click along its middle"),
        ToolChoice("power line", "Power line", "Click along it"),
        ToolChoice("hazard area", "Other hazard, an area", "A building or soft ground: click its corners"),
        ToolChoice("hazard line", "Other hazard, a line", "A pipe or drain: click along it"),
        ToolChoice("hazard point", "Other hazard, a point", "One click"),
        ToolChoice("boundary", "Farm boundary", "Click its corners"),
        ToolChoice("note", "Note", "One click"),
        ToolChoice("photo point", "Photo point", "Click where the camera stands, then where it looks"),
    ),
    place=20,
    key="F3",
)
RESHAPE = ToolKind(
    "Reshape",
    "Move, add and take corners away",
    "farmmap.window.tools.reshape:ReshapeTool",
    place=30,
    key="F4",
)
BLOCKS = ToolKind(
    "Blocks",
    "Split, join and mend blocks",
    "farmmap.window.tools.blocks_tools:block_tool",
    choices=(
        ToolChoice("split", "Split a block", "Draw a line across it"),
        ToolChoice("join", "Join blocks", "Click those that become one"),
        ToolChoice("hole", "Cut a hole", "Draw its edge inside a block"),
        ToolChoice("fill", "Fill a gap", "Click in a gap between blocks"),
    ),
    place=40,
    key="F6",
)
TREE = ToolKind(
    "Tree",
    "Place trees, and move them",
    "farmmap.window.tools.tree:TreeTool",
    place=50,
    key="F7",
)
TAPE = ToolKind(
    "Tape",
    "Write down what the tape says: tag, diameter, next tree",
    "farmmap.window.tools.tape:TapeTool",
    place=60,
    key="F8",
)
MARK = ToolKind(
    "Mark",
    "Mark trees for thinning: crop, take out, or leave",
    "farmmap.window.tools.marks:MarkTool",
    place=62,
    key="F5",
)
PLANT = ToolKind(
    "Plant",
    "Plan a planting along a creek: how wide, what grows where, fence, order and cost",
    "farmmap.window.tools.planting.tool:PlantTool",
    place=65,
    key="F10",
)
MEASURE = ToolKind(
    "Measure",
    "Measure a distance or an area along the ground",
    "farmmap.window.tools.measure:MeasureTool",
    choices=(
        ToolChoice("distance", "Distance", "Click from corner to corner"),
        ToolChoice("area", "Area", "Click its corners"),
    ),
    changes=False,
    place=70,
    key="F9",
)
