import pytest
from django.core.exceptions import ValidationError

from labcourse.passwords import NearbyWordsValidator


@pytest.mark.parametrize(
    "password", ["Chemistry2026!", "organic-labcourse-1", "Student_Autumn_26", "abcCourse99999"]
)
def test_words_of_the_place_are_not_enough(password):
    with pytest.raises(ValidationError, match="Words of the place"):
        NearbyWordsValidator().validate(password)


@pytest.mark.parametrize(
    "password", ["correct horse", "my chemistry otter", "0123456789", "Ünläbäre Wörter", "x" * 64]
)
def test_others_pass_here_whatever_they_are_made_of(password):
    NearbyWordsValidator().validate(password)
