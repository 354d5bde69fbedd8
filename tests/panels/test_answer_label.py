"""What came of something is said as a sentence, and takes no room while there is nothing to say."""

import pytest

from farmmap.panels.answer_label import AnswerLabel
from farmmap.panels.sentences import sentence


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("", ""),
        ("give a diameter", "Give a diameter."),
        ("Ready.", "Ready."),
        ("is that right?", "Is that right?"),
        ("42 m³/ha", "42 m³/ha."),
        ("ōtara", "Ōtara."),
    ],
)
def test_words_become_a_sentence(words, said):
    assert sentence(words) == said


def test_an_answer_is_seen_while_there_is_one_and_a_refusal_is_a_warning(qtbot):
    label = AnswerLabel()
    qtbot.addWidget(label)
    assert label.isHidden()
    label.say("no such block", warning=True)
    assert (label.text(), label.isHidden(), label.property("warning")) == ("No such block.", False, True)
    label.say("done")
    assert (label.text(), label.property("warning")) == ("Done.", False)
    label.say("")
    assert label.isHidden()
