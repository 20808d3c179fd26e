from __future__ import annotations

import pytest

from rearkit.errors import SettingError
from rearkit.report.parameters import Parameter, Value
from rearkit.report.settings import check_settings, checked_value, did_you_mean, joint_settings


def parameter(kinds: str, *, name: str = "day", default: Value = None) -> Parameter:
    return Parameter(
        name=name, kinds=tuple(kinds.split("|")), default=default, comment="day to judge at, days"
    )


@pytest.mark.parametrize(
    ("given", "kinds", "value"),
    [
        ("28", "int", 28),
        ("-3", "int", -3),
        (" 28 ", "int|None", 28),
        ("None", "int|None", None),
        ("none", "str|None", None),
        ("0.25", "float", 0.25),
        ("1e-3", "float", 0.001),
        ("28", "float", 28.0),
        (28, "float", 28.0),
        ("yes", "bool", True),
        ("False", "bool", False),
        ("off", "bool", False),
        ("007", "str", "007"),
        ("none", "str", "none"),
        ("28", "str|int", 28),
        ("shaded", "str|int", "shaded"),
        (True, "bool", True),
        (None, "int|None", None),
    ],
)
def test_text_and_plain_values_become_what_the_setting_takes(
    given: object, kinds: str, value: Value
) -> None:
    checked = checked_value(given, parameter(kinds))
    assert checked == value
    assert type(checked) is type(value)


@pytest.mark.parametrize(
    ("given", "kinds", "said"),
    [
        ("28.5", "int", "takes a whole number, as in day="),
        ("28.0", "int", "Did you mean 28?"),
        ("0,25", "float", r"Did you mean 0\.25\?"),
        ("nan", "float", "takes a number"),
        ("inf", "float", "takes a number"),
        ("1_000", "int", "takes a whole number"),
        ("yess", "bool", r"takes yes or no, .* Did you mean yes\?"),
        ("nonne", "int|None", r"takes a whole number or none, .* Did you mean none\?"),
        ("", "int", "'' will not do for the setting day"),
        (True, "int", "True will not do"),
        (1.5, "int", "1.5 will not do"),
        (float("nan"), "float", "nan will not do"),
        (None, "int", "None will not do"),
        ([3], "int", r"\[3\] will not do"),
        ("28 days", "int", r"It is: day to judge at, days\."),
    ],
)
def test_refuses_what_is_of_another_type(given: object, kinds: str, said: str) -> None:
    with pytest.raises(SettingError, match=said):
        checked_value(given, parameter(kinds))


def test_an_example_is_written_as_one_types_it() -> None:
    with pytest.raises(SettingError, match="as in day=yes"):
        checked_value("maybe", parameter("bool", default=True))
    with pytest.raises(SettingError, match="as in day=none"):
        checked_value("soon", parameter("int|None"))


def test_a_setting_goes_to_the_notebooks_that_have_it() -> None:
    declared = {
        "one": [parameter("str", name="log"), parameter("int", default=21)],
        "two": [parameter("str", name="log"), parameter("float", name="share", default=0.1)],
    }
    assert check_settings({"day": "28"}, declared) == {"one": {"day": 28}, "two": {"share": 0.1}}


def test_an_unknown_setting_is_refused_with_the_nearest_name() -> None:
    declared = {"one": [parameter("int", default=1)], "two": []}
    with pytest.raises(
        SettingError,
        match=r"no setting is called 'dya' \(notebooks one, two\)\. Did you mean day\?",
    ):
        check_settings({"dya": "3"}, declared)


def test_the_log_is_not_a_setting() -> None:
    with pytest.raises(SettingError, match="the log is not a setting"):
        check_settings({"log": "a.xlsx"}, {"one": [parameter("str", name="log")]})


def test_two_notebooks_with_two_values_of_one_setting_are_refused_unless_it_is_given() -> None:
    declared = {
        "one": [parameter("int", default=21)],
        "two": [parameter("int", default=28)],
    }
    with pytest.raises(SettingError, match=r"one and two start from different values of day: 21"):
        check_settings({}, declared)
    assert joint_settings(check_settings({"day": 14}, declared)) == {"day": 14}


def test_offers_the_nearest_name_or_all_of_them() -> None:
    assert did_you_mean("Survivall", ["survival", "growth"]) == "Did you mean survival?"
    assert did_you_mean("xyz", ["survival", "growth"]) == "There is: growth, survival."
    assert did_you_mean("xyz", []) == "There are none."
