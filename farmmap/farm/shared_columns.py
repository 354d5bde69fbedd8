"""Columns that many tables have."""

from farmmap.farm.columns import Column, Kind

STAGES = ("existing", "planned")

STAGE = Column(
    "stage",
    Kind.TEXT,
    "whether it stands on the ground or is only planned",
    allowed=STAGES,
    default="existing",
    also=("state", "phase"),
)
NAME = Column("name", Kind.TEXT, "name", also=("label", "title", "id_name"))
NOTE = Column("note", Kind.TEXT, "note", also=("notes", "remarks", "remark", "comment", "comments", "desc"))
PLAN = Column("plan", Kind.TEXT, "name of the plan that it came from; empty: none", by_program=True)
