"""The weights that come with farmmap: every key has a score, and its source is said."""

from __future__ import annotations

from farmmap.plans.thinning.stand import block_trees
from farmmap.plans.thinning.worth import scores, usual_weights, weights_with, worths
from tests.plans.thinning.stands import planted, stand_farm


def test_every_weight_has_a_score_and_a_source() -> None:
    trees = block_trees(stand_farm(*planted(3, 4)), 1)
    found = scores(trees, {})
    assert set(found) == set(usual_weights())
    for key, weight in usual_weights().items():
        assert weight.weight > 0
        assert weight.words
        assert weight.source
        assert ((found[key] >= 0) & (found[key] <= 1)).all()
    worth = worths(trees, weights_with({}))
    assert ((worth > 0) & (worth <= 1)).all()


def test_a_weight_of_one_thing_alone_is_its_score() -> None:
    trees = block_trees(stand_farm(*planted(3, 4)), 1)
    for key, score in scores(trees, {}).items():
        alone = worths(trees, weights_with(dict.fromkeys(usual_weights(), 0.0) | {key: 2.0}))
        assert abs(alone - score.clip(0.01)).max() < 1e-12
