"""Errors carry their parts, write their sentence in the reader's units, and know their cell code."""

import pickle

import pytest

from pressfuncs import errors, shearing_force
from pressfuncs.errors import CellError, OutOfRange, PressError
from pressfuncs.quantities import FORCE, LENGTH, Constant, Wording


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("OutOfRange", "#NUM!"),
        ("Impossible", "#NUM!"),
        ("WrongUnit", "#VALUE!"),
        ("WrongType", "#VALUE!"),
        ("WrongChoice", "#VALUE!"),
        ("MissingValue", "#VALUE!"),
        ("NotInTable", "#N/A"),
    ],
)
def test_error_has_its_cell_code(name, code):
    error = getattr(errors, name)
    assert issubclass(error, PressError)
    assert issubclass(error, ValueError)
    assert error.cell == code
    assert code in errors.ERROR_CODES


def test_every_error_class_is_listed_above():
    children = {error.__name__ for error in PressError.__subclasses__()}
    assert children == {
        *("OutOfRange", "Impossible", "WrongUnit", "WrongType", "WrongChoice", "MissingValue", "NotInTable")
    }


def test_error_from_a_function_carries_its_parts():
    with pytest.raises(OutOfRange) as refusal:
        shearing_force(100.0, 0.0, 310.0)
    error = refusal.value
    assert (error.function, error.argument, error.value) == ("shearing_force", "thickness", 0.0)
    assert str(error) == "thickness must be greater than 0 mm, got 0 mm"
    assert error.sentence("inch") == "thickness must be greater than 0 in, got 0 in"


def test_all_bad_arguments_are_named_at_once():
    with pytest.raises(OutOfRange) as refusal:
        shearing_force(-25.4, 3.2, 0.0)
    assert (refusal.value.argument, refusal.value.value) == ("cut_length", -25.4)
    assert refusal.value.sentence("inch") == (
        "cut_length must be greater than 0 in, got -1 in; shear_strength must be greater than 0 psi, got 0 psi"
    )


def test_sentence_is_written_in_the_units_asked_for():
    error = PressError(
        "{force} is more than {count} times", numbers={"force": (2000.0, FORCE), "count": (3.0, None)}
    )
    assert error.sentence() == str(error) == "2000 N is more than 3 times"
    assert error.sentence("metric") == "2 kN is more than 3 times"


def test_sentence_without_numbers_may_hold_braces():
    assert str(PressError('"{x}" is not known')) == '"{x}" is not known'


def test_error_value_is_equal_to_its_like():
    assert CellError("#N/A") == CellError("#N/A") != CellError("#REF!")
    assert CellError("#N/A") != "#N/A"
    assert len({CellError("#N/A"), CellError("#N/A"), CellError("#NUM!")}) == 2
    assert repr(CellError("#N/A")) == "#N/A"


def test_wording_is_a_text_that_can_be_written_again_in_other_units():
    text = Wording("too tall by {excess}, {count} spacers", excess=(25.4, LENGTH), count=(2.0, LENGTH))
    assert text == "too tall by 25.4 mm, 2 mm spacers"
    assert text.shown("inch").startswith("too tall by 1 in")
    assert isinstance(text, str)


def test_constant_computes_as_a_plain_number_and_keeps_its_kind():
    constant = Constant(10.0, LENGTH)
    assert constant * 2 == 20.0
    assert constant.kind is LENGTH


def test_error_survives_a_process_boundary():
    with pytest.raises(OutOfRange) as refusal:
        shearing_force(100.0, 0.0, 310.0)
    again = pickle.loads(pickle.dumps(refusal.value))
    assert str(again) == str(refusal.value)
    assert (again.function, again.argument) == ("shearing_force", "thickness")


@pytest.mark.parametrize(
    ("value", "shown"), [(0.0, "0 mm"), (-0.0, "0 mm"), (1 / 3, "0.3333333333 mm"), (1e15, "1e+15 mm")]
)
def test_kind_shows_ten_digits_and_no_negative_zero(value, shown):
    assert LENGTH.show(value) == shown
