"""The pages that explain each rule and each formula."""

import ast
from pathlib import Path

import pytest

from health import formulas
from health.boards.explain import formula_pages
from health.docstrings import parsed
from health.explanations import RULES
from health.models import Episode
from health.rules import consistency, limits
from health.rules.pattern import PATTERN
from logbook.times import minute_of
from station.models import Meter, Person, Transmitter
from tests.make import SLOT
from tests.people import signed_in
from tests.test_architecture import HELPERS

BY_EXPECTATION = ("departure", "shift")
OF_RELATIONS = [f"{relation}-{kind}" for relation in consistency.VALUES for kind in BY_EXPECTATION]
RAISED = [*limits.RULES.values(), *BY_EXPECTATION, *OF_RELATIONS, PATTERN]
EVIDENCE = {"value": 2.0, "bound": "", "limit": 1.5, "centre": 1.0, "sigma": 0.1, "far": 4.5}

pytestmark = pytest.mark.django_db


def written_formulas() -> list[str]:
    """As they stand in the files, save the small helpers."""
    (place,) = formulas.__path__
    return [
        node.name
        for path in sorted(Path(place).glob("*.py"))
        for node in ast.parse(path.read_text()).body
        if isinstance(node, ast.FunctionDef) and node.name not in HELPERS
    ]


class TestDocstring:
    def test_parts_are_parted(self) -> None:
        text = parsed(formulas_doc("apparent_efficiency"))
        assert text.summary.startswith("Output over anode input")
        assert [(one.names, one.unit) for one in text.parameters] == [
            ("output_power_kw", "kW"),
            ("anode_voltage_kv", "kV"),
            ("anode_current_a", "A"),
        ]
        assert text.parameters[2].words == "Sum of the stage's tubes, without grid current."
        assert text.returns[0].unit == "1"
        assert text.notes.startswith("eta = P_out / (V_a I_a).")
        assert text.example.endswith("0.811688")

    def test_result_without_a_unit_keeps_its_kind(self) -> None:
        (found,) = parsed(formulas_doc("is_compensation_doubtful")).returns
        assert (found.kind, found.unit) == ("ndarray of bool", "")


def formulas_doc(name: str) -> str:
    (place,) = formulas.__path__
    return next(
        ast.get_docstring(node) or ""
        for path in Path(place).glob("*.py")
        for node in ast.parse(path.read_text()).body
        if isinstance(node, ast.FunctionDef) and node.name == name
    )


class TestPages:
    def test_every_formula_has_one(self) -> None:
        assert sorted(formula_pages()) == sorted(written_formulas())

    def test_every_rule_that_the_judge_raises_has_one(self) -> None:
        assert set(RAISED) <= set(RULES)

    def test_no_name_is_a_rule_and_a_formula(self) -> None:
        assert set(RULES) & set(formula_pages()) == set()

    def test_rules_stand_on_formulas_that_there_are(self) -> None:
        named = {formula for rule in RULES.values() for formula in rule.formulas}
        assert named <= set(formula_pages())

    def test_each_opens_from_the_list_and_says_what_it_should(self, viewer: Person) -> None:
        client = signed_in(viewer)
        listed = client.get("/explain").content.decode()
        for name in [*RULES, *formula_pages()]:
            assert f'href="/explain/{name}"' in listed
            page = client.get(f"/explain/{name}").content.decode()
            for words in ("What the log does not see", "Source", "This log does not protect"):
                assert words in page, name

    def test_formula_page_shows_its_own_docstring(self, viewer: Person) -> None:
        page = signed_in(viewer).get("/explain/swr").content.decode()
        for words in ("|G| = sqrt(Pr / Pf)", "any one unit of power", "IEC 60050-726", "1.5"):
            assert words in page

    @pytest.mark.parametrize("name", ["tides", "floats", "SWR", "..", "limit_low", "a\0b"])
    def test_unknown_name_is_a_clear_page(self, viewer: Person, name: str) -> None:
        answer = signed_in(viewer).get(f"/explain/{name}")
        assert answer.status_code == 404
        assert "No such page" in answer.content.decode()


class TestLinks:
    @pytest.mark.parametrize("rule", ["limit-high", "reflection-departure"])
    def test_flag_leads_to_its_rule(
        self, transmitter: Transmitter, meter: Meter, viewer: Person, rule: str
    ) -> None:
        flag = Episode.objects.create(
            station=transmitter.station,
            transmitter=transmitter,
            meter=meter,
            rule=rule,
            first_no=1,
            since_minute=minute_of(SLOT),
            priority="low",
            evidence=EVIDENCE,
        )
        page = signed_in(viewer).get(flag.get_absolute_url()).content.decode()
        for name in (rule, *RULES[rule].formulas):
            assert f'href="/explain/{name}"' in page

    @pytest.mark.parametrize("address", [f"/week/{SLOT:%Y-%m-%d}", "/record/T1"])
    def test_numbers_lead_to_the_list(
        self, transmitter: Transmitter, viewer: Person, address: str
    ) -> None:
        assert 'href="/explain"' in signed_in(viewer).get(address).content.decode()
