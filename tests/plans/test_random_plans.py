"""Plans kept, accepted, planted and taken back among any other edits: undone exactly, figures as from scratch."""

from __future__ import annotations

import datetime as dt

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import invariant, rule

from farmmap.figures.whole_farm import farm_figures
from farmmap.plans.planting.keeping.accept import plan_accepted, plan_planted
from farmmap.plans.planting.keeping.kept import kept_plans, plan_kept, plan_taken_back
from tests.editing.made_farms import forgotten
from tests.editing.test_random_edits import ON, Editing
from tests.plans.made_plan import made_plan

names = st.sampled_from(["Lower Sedge", "Wide", "Plan 3"])


class Planning(Editing):
    """The same session of work, with plans."""

    @rule(name=names, columns=st.integers(1, 12), east=st.integers(-1, 3))
    def keep(self, name, columns, east) -> None:
        self._do(lambda: plan_kept(self.farm, made_plan(self.farm, name, columns=columns, east_m=30.0 * east), on=ON))

    @rule(name=names, columns=st.integers(1, 12), east=st.integers(-1, 3))
    def accept(self, name, columns, east) -> None:
        plan = made_plan(self.farm, name, columns=columns, east_m=30.0 * east)
        self._do(lambda: plan_accepted(self.farm, plan, on=ON))

    @rule(name=names, year=st.integers(2018, 2022), redwoods=st.none() | st.integers(0, 9))
    def plant(self, name, year, redwoods) -> None:
        some = {} if redwoods is None else {"coast redwood": redwoods}
        self._do(lambda: plan_planted(self.farm, name, dt.date(year, 6, 1), planted=some))

    @rule(name=names)
    def take_back(self, name) -> None:
        self._do(lambda: plan_taken_back(self.farm, name))

    @invariant()
    def the_parts_of_a_plan_are_as_its_state_says(self) -> None:
        states = {plan.name: plan.state for plan in kept_plans(self.farm)}
        for table in ("trees", "fences", "blocks", "notes"):
            assert set(self.farm.tables[table]["plan"]) <= {"", *states}
        kept = [name for name, state in states.items() if state == "kept"]
        trees = self.farm.trees
        assert not (trees["plan"].isin(kept) & (trees["stage"] == "planned")).any()

    @invariant()
    def the_whole_farm_is_as_from_scratch(self) -> None:
        quick, afresh = farm_figures(self.farm, ON), farm_figures(forgotten(self.farm), ON)
        assert repr(list(quick.rows)) == repr(list(afresh.rows))


TestPlanning = Planning.TestCase
TestPlanning.settings = settings(max_examples=10, stateful_step_count=20)
