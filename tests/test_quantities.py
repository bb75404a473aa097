"""Quantities: values with units, ranges, scores, sizes, and words that are none."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.language.quantities import Quantity, quantities


def only(text: str) -> Quantity:
    (quantity,) = quantities(text)
    return quantity


@pytest.mark.parametrize(
    ("said", "number", "unit"),
    [
        ("two kilos two", 2.2, "kg"),
        ("4 kilos 200", 4.2, "kg"),
        ("four kilos two hundred grams", 4.2, "kg"),
        ("forty k", 40, "kg"),
        ("weighs nine and a half kilos", 9.5, "kg"),
        ("a kilo and a half", 1.5, "kg"),
        ("four two kilos", 4.2, "kg"),
        ("three-six kilos", 3.6, "kg"),
        ("seventeen-four pounds", 17.4, "[lb_av]"),
        ("610 grams", 610, "g"),
        ("12.4kg", 12.4, "kg"),
        ("twelve pounds six ounces", 12.375, "[lb_av]"),
        ("seven pounds and four ounces", 7.25, "[lb_av]"),
        ("twelve and three quarter pounds", 12.75, "[lb_av]"),
        ("38.5C", 38.5, "Cel"),
        ("thirty-eight five degrees", 38.5, "Cel"),
        ("101.5 degrees", 101.5, "[degF]"),
        ("one oh one five fahrenheit", 101.5, "[degF]"),
        ("forty degrees of flexion", 40, "deg"),
        ("ninety a minute", 90, "/min"),
        ("160 bpm", 160, "/min"),
        ("thirty breaths per minute", 30, "/min"),
        ("one hundred and four to the minute", 104, "/min"),
        ("48 of them a minute", 48, "/min"),
        ("fifty-two millimetres of mercury", 52, "mm[Hg]"),
        ("52 mmHg", 52, "mm[Hg]"),
        ("fifteen millimeters per minute", 15, "mm/min"),
        ("15 mm/min", 15, "mm/min"),
        ("seven per cent dry", 7, "%"),
        ("97%", 97, "%"),
        ("one and a half seconds", 1.5, "s"),
        ("a second and a half", 1.5, "s"),
        ("Second and a half", 1.5, "s"),
        ("two second refill", 2, "s"),
        ("a couple of seconds", 2, "s"),
        ("half a centimeter", 0.5, "cm"),
        ("three quarters of an inch", 0.75, "[in_i]"),
        ("1/2 cm", 0.5, "cm"),
        ("three-quarter inch", 0.75, "[in_i]"),
        ("one and three-quarter kilos", 1.75, "kg"),
        ("third of a centimetre", 0.33, "cm"),
        ("2 1/2 cm", 2.5, "cm"),
        ("2½ cm", 2.5, "cm"),
        ("a five millimetre outie", 5, "mm"),
        ("three mil", 3, "mm"),
        ("twelve weeks old", 12, "wk"),
        ("eight-month-old", 8, "mo"),
        ("nought point five mls", 0.5, "mL"),
    ],
)
def test_value_and_unit(said: str, number: float, unit: str) -> None:
    """A value said with its unit has this number and this UCUM code."""
    found = only(said)
    assert (found.number, found.unit) == (number, unit)


@pytest.mark.parametrize(
    ("said", "comparator", "number"),
    [
        ("under two seconds", "<", 2),
        ("less than 2", "<", 2),
        ("CRT <2 s", "<", 2),
        ("inside one second", "<", 1),
        ("under a second", "<", 1),
        ("just over two seconds", ">", 2),
        ("more than 10 seconds", ">", 10),
        ("no more than 3 cm", "<=", 3),
        ("at least five millimetres", ">=", 5),
        ("six at least", ">=", 6),
        ("about a centimeter", "~", 1),
        ("160 or so", "~", 160),
        ("twelve millimetres or so", "~", 12),
        ("roughly three millimeters", "~", 3),
    ],
)
def test_comparators_are_part_of_the_quantity(said: str, comparator: str, number: float) -> None:
    """Words of bound or vagueness become the comparator, and the place covers them."""
    found = only(said)
    assert (found.comparator, found.number) == (comparator, number)
    assert said.endswith(found.text)


@pytest.mark.parametrize(
    ("said", "kind", "number", "scale"),
    [
        ("five out of nine", "score", 5, 9),
        ("5/9", "score", 5, 9),
        ("BCS five over nine", "score", 5, 9),
        ("BCS three from nine", "score", 3, 9),
        ("six and a half on nine", "score", 6.5, 9),
        ("a four on the nine scale", "score", 4, 9),
        ("three on the four-point chart", "score", 3, 4),
        ("5 on a scale of 9", "score", 5, 9),
        ("pain score 14 out of 24", "score", 14, 24),
        ("pain score fourteen out of ten", "score", 14, 10),
        ("BCS 5", "score", 5, None),
        ("grade two of six", "grade", 2, 6),
        ("grade 3/6", "grade", 3, 6),
        ("II/VI", "grade", 2, 6),
        ("grade III out of VI", "grade", 3, 6),
        ("grade II", "grade", 2, None),
        ("grade II to III out of VI", "grade", 2, 6),
        ("II-III/VI", "grade", 2, 6),
        ("BCS 5-6/9", "score", 5, 9),
        ("grade two", "grade", 2, None),
        ("mobility three", "grade", 3, None),
        ("two over six", "score", 2, 6),
        ("eight outta nine", "score", 8, 9),
        ("pain nil of four", "score", 0, 4),
    ],
)
def test_scores_and_grades_keep_the_scale_that_was_said(
    said: str, kind: str, number: float, scale: float | None
) -> None:
    """A score or grade carries the top of its scale only where it was spoken."""
    found = only(said)
    assert (found.kind, found.number, found.scale) == (kind, number, scale)


@pytest.mark.parametrize(
    ("said", "number", "upper", "unit"),
    [
        ("fifteen to twenty", 15, 20, None),
        ("15-20", 15, 20, None),
        ("4 to 5 mm", 4, 5, "mm"),
        ("two or three ticks", 2, 3, None),
        ("between 20 and 25", 20, 25, None),
        ("one sixty to one eighty", 160, 180, None),
        ("grade two to three out of six", 2, 3, None),
    ],
)
def test_ranges_have_both_ends(said: str, number: float, upper: float, unit: str | None) -> None:
    """A range has its lower end as number and its upper end beside it."""
    found = only(said)
    assert (found.number, found.upper, found.unit) == (number, upper, unit)


@pytest.mark.parametrize(
    ("said", "dimensions", "unit"),
    [
        ("two by one centimetre", (2, 1, None), "cm"),
        ("3 x 2 cm", (3, 2, None), "cm"),
        ("2x3cm", (2, 3, None), "cm"),
        ("two-by-one-centimetre", (2, 1, None), "cm"),
        ("2.5cm by 1.5cm", (2.5, 1.5, None), "cm"),
        ("two and a half by one and a half centimetres", (2.5, 1.5, None), "cm"),
        ("three by three by two centimetres", (3, 3, 2), "cm"),
    ],
)
def test_sizes_have_their_dimensions(said: str, dimensions: tuple[float, ...], unit: str) -> None:
    """A size in two or three dimensions is one quantity with one unit."""
    found = only(said)
    assert (found.kind, (found.number, found.second, found.third), found.unit) == ("size", dimensions, unit)


@pytest.mark.parametrize(
    "said", ["120 over 80", "one twenty over eighty", "a hundred and twenty over eighty mmHg", "120/80"]
)
def test_blood_pressure_is_systolic_over_diastolic(said: str) -> None:
    """Two numbers of a size that no score has are a pressure in millimetres of mercury."""
    found = only(said)
    assert (found.kind, found.number, found.second, found.unit) == ("pressure", 120, 80, "mm[Hg]")


@pytest.mark.parametrize(
    "said",
    [
        "one of them is fine",
        "this one",
        "the left one is a soft one",
        "no one has seen it",
        "for to won ate",
        "a hundred times better",
        "the third eyelid is up",
        "wait a second, let me look",
        "hang on one second",
        "at this point two-tone fur",
        "all four paws",
        "on 12/5/2026",
        "half of it",
        "four-legged friend",
        "one thing at a time",
        "I vi to be first class",
    ],
)
def test_ordinary_words_are_no_quantities(said: str) -> None:
    """Pronouns, idioms and dates are left alone."""
    assert quantities(said) == ()


def test_second_is_a_rank_before_a_noun_and_a_time_after_a_number() -> None:
    """ "The second mass" is an ordinal, "one second" a time."""
    assert [(q.kind, q.number) for q in quantities("the second mass, back in one second")] == [
        ("ordinal", 2),
        ("time", 1),
    ]


def test_a_bare_one_is_weak() -> None:
    """ "One" without a unit is kept for places where a value is due, and marked."""
    assert only("CRT one").weak
    assert not only("CRT two").weak


def test_a_temperature_without_point_keeps_other_readings() -> None:
    """ "Thirty-eight nine" is 38.9, perhaps 389, perhaps 38 and 9."""
    found = only("thirty-eight nine")
    assert (found.number, found.readings) == (38.9, (389.0,))
    assert [piece.number for piece in found.pieces] == [38, 9]


def test_a_length_never_lacks_its_point() -> None:
    """In "one oh four three millimetre pocket" the millimetres are three."""
    assert [(q.number, q.unit) for q in quantities("one oh four three millimetre pocket")] == [(104, None), (3, "mm")]


def test_an_abbreviation_of_something_else_is_no_unit() -> None:
    """ "MM" after a weight are the mucous membranes."""
    assert only("I want eight and a half mm pink").unit is None
    assert only("eight mm").unit == "mm"


def test_a_new_topic_is_no_unit() -> None:
    """ "HR" and "breaths" before a number open the next topic."""
    assert [(q.number, q.unit) for q in quantities("38.5 HR 120 RR 32 mm pink")] == [
        (38.5, None),
        (120, None),
        (32, None),
    ]
    assert [q.number for q in quantities("temperature thirty eight one breaths thirty six")] == [38.1, 36]


def test_numbers_too_heavy_for_a_dog_are_two() -> None:
    """ "Four sixty-eight kilos" without punctuation is an age and a weight."""
    assert [(q.number, q.unit) for q in quantities("castrated four sixty eight kilos")] == [(4, None), (68, "kg")]


def test_a_point_after_a_pair_belongs_to_its_end() -> None:
    """ "One of five, twenty-six point two" without punctuation is a score and 26.2."""
    assert [q.number for q in quantities("say one and a half out of five twenty six point two")] == [1.5, 26.2]


def test_a_count_with_millimetres_is_no_score() -> None:
    """ "One of five millimetres" is a thing of a size."""
    assert [(q.kind, q.number) for q in quantities("a mobile one of five millimetres")] == [("size", 5)]


def test_words_alone_and_with_punctuation_read_alike() -> None:
    """Capitals and punctuation do not change what is read."""
    said = "Temp 38.5. Heart rate one twenty, resps twenty-four. CRT under two seconds. Mass, two by one centimetre."
    bare = "temp 38.5 heart rate one twenty resps twenty four crt under two seconds mass two by one centimetre"
    assert [(q.kind, q.number, q.second, q.unit) for q in quantities(said)] == [
        (q.kind, q.number, q.second, q.unit) for q in quantities(bare)
    ]


PHRASES = [
    "thirty-eight nine", "two kilos two", "under two seconds", "five out of nine", "2 x 3 cm", "one oh four",
    "a second", "grade II", "left", "one", "over", "to", "and a half", ",", ".", "120 over 80", "percent", "second",
    "or so", "BCS", "point", "oh", "of", "mm", "15-20", "I", "/",
]  # fmt: skip


@settings(deadline=None)
@given(st.one_of(st.text(), st.lists(st.sampled_from(PHRASES)).map(" ".join)))
def test_places_are_half_open_in_order_and_say_the_text(text: str) -> None:
    """Every quantity lies where it says, and no two overlap."""
    end = 0
    for found in quantities(text):
        assert end <= found.char_start < found.char_end <= len(text)
        assert text[found.char_start : found.char_end] == found.text
        end = found.char_end


@pytest.mark.parametrize(
    ("said", "number"),
    [
        ("heart rate, 1, 7, 2, lungs clear", 172),
        ("systolic blood pressure one, zero, nine", 109),
        ("temperature. 1, 0, 2. degrees Fahrenheit", 102),
        ("tooth 1-07 is loose", 107),
        ("heart rate one two three", 123),
    ],
)
def test_digits_said_with_pauses(said: str, number: float) -> None:
    """Three digits with a pause after each, behind a word that a number follows, are one number."""
    assert only(said).number == number


@pytest.mark.parametrize("said", ["pockets 2, 3, 2", "teeth 1, 2, 3 are loose", "heart rate 1, 2"])
def test_other_digits_stay_apart(said: str) -> None:
    """Digits of a row of measurements, counted ones and two alone are several numbers."""
    assert len(quantities(said)) > 1


def test_a_pause_before_the_scale() -> None:
    """ "Five, out of nine" is a score of nine."""
    found = only("body condition, five, out of nine")
    assert (found.kind, found.number, found.scale) == ("score", 5, 9)
