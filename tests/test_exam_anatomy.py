"""Parts that this patient does not have."""

from __future__ import annotations

from exam_cases import kinds, settled

from dictate.exam.statements import PatientTold, Statement


def test_site_of_the_other_sex_is_doubted() -> None:
    """A prostate of a female is doubted; of a male, or of a patient whose sex was not told, it is not."""
    prostate = Statement("prostate", None, "abnormal", "mass")
    assert kinds(settled(prostate, patient=PatientTold(sex="female"))[0]) == ["not of this patient"]
    assert settled(prostate, patient=PatientTold(sex="male"))[0].doubts == ()
    assert settled(prostate)[0].doubts == ()


def test_tooth_that_the_species_lacks_is_doubted() -> None:
    """Tooth 105 of a cat is doubted; of a dog it is not; a number that no species has is doubted without a species."""
    tooth = Statement("teeth", None, "abnormal", "mass", qualifiers={"tooth": "105"})
    assert kinds(settled(tooth, patient=PatientTold(species="cat"))[0]) == ["not of this patient"]
    assert settled(tooth, patient=PatientTold(species="dog"))[0].doubts == ()
    nowhere = Statement("teeth", None, "abnormal", "mass", qualifiers={"tooth": "199"})
    assert kinds(settled(nowhere)[0]) == ["not of this patient"]


def test_digit_beyond_the_paw_is_doubted() -> None:
    """Digit 6 is doubted, digit 1 (the dewclaw) is not."""
    six, one = (Statement("elbow", "left", "abnormal", "mass", qualifiers={"digit": n}) for n in ("6", 1))
    assert kinds(settled(six)[0]) == ["not of this patient"]
    assert settled(one)[0].doubts == ()
