"""Lifting notes and cautions."""

from stockplan.report.handling import CAUTIONS, GUIDANCE, GUIDELINE, LIFT_KEY, lift_needs, lift_words, lifting_note


def test_notes_only_ever_forbid():
    assert lifting_note(16) == ""
    assert lifting_note(17) == "not for one person: 2 people at least, or plant"
    assert lifting_note(37) == "not for one person: 3 people at least, or plant"
    assert lifting_note(38) == "too heavy for hands: use plant"
    assert [lift_needs(kg) for kg in (16, 17, 38)] == ["", "2 people at least, or plant", "use plant"]
    assert all("safe" not in note and "may lift" not in note for note in map(lifting_note, range(400)))


def test_the_guideline_names_its_source_its_figures_and_its_limits():
    for words in ("INDG143", "L23", "16 kg", "33.3 kg", "37.5 kg", "a long limp roll is not"):
        assert words in GUIDELINE


def test_cautions_name_every_danger_and_defer():
    text = " ".join(CAUTIONS).lower()
    for words in ("knives", "plant", "lifting", "dust", "risk assessment", "data sheets", "local codes", "clearance"):
        assert words in text


def test_a_column_says_the_same_in_a_word():
    assert [lift_words(kg) for kg in (16, 17, 33, 34, 37, 38)] == [
        "",
        "2 people",
        "2 people",
        "3 people",
        "3 people",
        "plant",
    ]
    assert all(bool(lift_words(kg)) == bool(lifting_note(kg)) for kg in range(100))
    assert GUIDELINE in LIFT_KEY
    assert GUIDANCE in LIFT_KEY
