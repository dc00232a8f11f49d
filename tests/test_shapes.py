"""Content files against the JSON Schemas that editors get: schemas current, every mistake in words at its place."""

import datetime as dt
import json
import re

import jsonschema
import pytest

from hiveweek import content, shapes
from hiveweek.shapes import marked_yaml, structure
from upkeep import schemas

MISFITS = structure.misfits
KINDS = sorted(path.name.removesuffix(".schema.json") for path in shapes.FOLDER.glob("*.schema.json"))


def test_the_schema_files_are_current():
    assert {path.name: path.read_text(encoding="utf-8") for path in shapes.FOLDER.iterdir()} == schemas.texts(), (
        "run python -m upkeep.schemas"
    )


@pytest.mark.parametrize("kind", KINDS)
def test_every_schema_is_a_schema(kind):
    whole = json.loads((shapes.FOLDER / f"{kind}.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(whole)
    jsonschema.Draft202012Validator.check_schema(shapes.shape(kind).schema)


ROOT = content.root()
CONTENT = sorted(
    path for folder in ("rulesets", "climate_profiles", "scenarios", "docs") for path in (ROOT / folder).rglob("*.yaml")
)


def plain(value):
    """What an editor sees: dates are texts."""
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [plain(inner) for inner in value]
    return value.isoformat() if isinstance(value, dt.date) else value


@pytest.mark.parametrize("path", CONTENT, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_an_editor_finds_the_schema_of_every_content_file_and_no_error(path):
    first = path.read_text(encoding="utf-8").splitlines()[0]
    named = re.fullmatch(r"# yaml-language-server: \$schema=(\S+)", first)
    assert named, "the first line names the schema"
    schema = (path.parent / named[1]).resolve()
    assert schema.parent == shapes.FOLDER and schema.is_file(), schema.name
    document = marked_yaml.read(path)
    assert document.problems == []
    validator = jsonschema.Draft202012Validator(json.loads(schema.read_text(encoding="utf-8")))
    assert [(list(e.absolute_path), e.message) for e in validator.iter_errors(plain(document.data))] == []


def test_every_kind_of_file_has_one_schema_and_every_schema_a_file():
    used = {path.read_text(encoding="utf-8").splitlines()[0].rpartition("/")[2] for path in CONTENT}
    assert used | {"proof_exceptions.schema.json", "record.schema.json", "sheet_map.schema.json"} == {
        path.name for path in shapes.FOLDER.iterdir()
    }


SCHEMA = {
    "type": "object",
    "additionalProperties": False,
    "required": ["name"],
    "properties": {
        "name": {"type": "string", "pattern": "^[a-z]+$", "description": "What it is called."},
        "size": {"type": ["number", "null"], "minimum": 0, "maximum": 9, "unit": "kg"},
        "count": {"type": "integer", "minimum": 1},
        "kind": {"enum": ["big", "small", "no"]},
        "job": {"enum": ["dig", "sow"], "noun": "action"},
        "day": {
            "type": "string",
            "pattern": r"^\d{4}-\d{2}-\d{2}$",
            "errorMessage": "a date like 2026-02-10",
            "code": "no-such-date",
        },
        "wet": {"type": "boolean"},
        "from": {
            "anyOf": [{"enum": ["book", "memory"]}, {"type": "array", "items": {"type": "string"}, "minItems": 1}]
        },
        "sign": {
            "anyOf": [
                {
                    "type": "object",
                    "additionalProperties": False,
                    "properties": {"on": {"type": "string"}},
                    "required": ["on"],
                },
                {
                    "type": "object",
                    "additionalProperties": False,
                    "properties": {"turns": {"type": "string"}, "to": {"type": "string"}},
                    "required": ["turns", "to"],
                },
            ]
        },
        "rows": {"type": "array", "uniqueItems": True, "items": {"type": "string"}},
        "counts": {
            "type": "object",
            "propertyNames": {"pattern": "^[a-z]+$"},
            "additionalProperties": {"type": "integer"},
        },
        "values": {
            "type": "object",
            "noun": "fact",
            "properties": {"a.b": {"type": "number"}},
            "additionalProperties": False,
        },
        "never": {"not": {}, "errorMessage": "only the others take it"},
    },
}


@pytest.fixture
def shape():
    found = shapes.Shape("made")
    found.__dict__["schema"] = SCHEMA
    return found


def told(shape, text):
    document = marked_yaml.parse(text, "f")
    return [
        (p.line, p.col, p.code, p.message) for p in sorted([*document.problems, *shape.check(document)])
    ], document.data


@pytest.mark.parametrize(
    ("text", "col", "code", "message"),
    [
        (
            "nam: a, name: b",
            2,
            "unknown-key",
            "'nam' is not known here; allowed: name, size, count, kind, job, day, wet, from, sign, rows, counts, values, never; nearest: name",
        ),
        ("size: 2", 1, "missing-key", "the file lacks 'name': What it is called"),
        ("name: a, size: 4 kg", 17, "wrong-type", "'size' is a number (kg); '4 kg' is not; write the number alone"),
        ("name: a, size: '4,5'", 17, "wrong-type", "'size' is a number (kg); '4,5' is not; write 4.5"),
        (
            "name: a, size: 4,5",
            19,
            "unknown-key",
            "'5' is not known here; a comma ends a value here: write 1.5, not 1,5",
        ),
        (
            "name: a, size: “4.5”",
            17,
            "wrong-type",
            "'size' is a number (kg); '“4.5”' is not; write 4.5, without curly quotes",
        ),
        (
            "name: “a”",
            8,
            "bad-name",
            "'name' is a text of the form ^[a-z]+$; '“a”' is not; curly quotes are letters here: write straight ones, or none",
        ),
        ("name: a, size: [4]", 17, "wrong-type", "'size' is a number (kg), not a list"),
        ("name: a, size: 10", 17, "out-of-range", "'size' lies between 0 and 9 kg; 10 is outside"),
        ("name: a, count: 0", 18, "out-of-range", "'count' is at least 1; 0 is outside"),
        ("name: a, count: 1.5", 18, "wrong-type", "'count' is a whole number; '1.5' is not"),
        ("name: a, count: ", 18, "wrong-type", "'count' is a whole number; it is empty"),
        ("name: a, kind: smal", 17, "unknown-value", "'kind' is one of big, small, no; 'smal' is not; nearest: small"),
        ("name: a, job: digg", 16, "unknown-action", "'digg' is no action; nearest: dig"),
        ("name: a, day: yesterday", 16, "no-such-date", "'day' is a date like 2026-02-10; 'yesterday' is not"),
        ("name: a, day: 2026-02-30", 16, "no-such-date", "'2026-02-30' is no date in the calendar"),
        ("name: a, wet: 1", 16, "wrong-type", "'wet' is true or false; '1' is not"),
        ("name: a, from: bok", 17, "unknown-value", "'from' is one of book, memory; 'bok' is not; nearest: book"),
        ("name: a, from: {a: b}", 17, "wrong-type", "'from' is one of book, memory, or a list, not a mapping"),
        ("name: a, from: []", 17, "out-of-range", "'from' has at least one entry; here are 0"),
        ("name: a, from: [b, [c]]", 21, "wrong-type", "entry 2 of 'from' is a text, not a list"),
        (
            "name: a, sign: {turn: x, to: y}",
            18,
            "unknown-key",
            "'turn' is not known here; allowed: on, turns, to; nearest: turns",
        ),
        ("name: a, sign: {turns: x}", 11, "missing-key", "'sign' lacks 'to'"),
        ("name: a, sign: {turns: x, to: [y]}", 32, "wrong-type", "'to' is a text, not a list"),
        ("name: a, rows: [x, y, x]", 17, "duplicate-id", "'x' stands twice in 'rows'"),
        ("name: a, counts: {Big: 1}", 20, "bad-name", "'Big' is no name: small letters, digits, - and _"),
        ("name: a, values: {a.c: 1}", 20, "unknown-fact", "'a.c' is no fact; nearest: a.b"),
        ("name: a, never: 1", 11, "wrong-type", "only the others take it"),
        ("name: A", 8, "bad-name", "'name' is a text of the form ^[a-z]+$; 'A' is not"),
    ],
)
def test_what_does_not_fit_is_told_in_words(shape, text, col, code, message):
    found, _ = told(shape, "{" + text + "}\n")
    assert found == [(1, col, code, message)]


def test_a_scalar_is_a_text_as_it_was_written_where_a_text_is_asked_for(shape):
    found, data = told(shape, "name: no\nkind: NO\nday: 2026-02-10\nrows: [012, true, 1.50, ~]\n")
    assert [(code, line) for line, _, code, _ in found] == [("unknown-value", 2), ("wrong-type", 4)]
    assert data["name"] == "no" and data["rows"] == ["012", "true", "1.50", None] and "kind" not in data


def test_what_does_not_fit_is_taken_out_and_the_rest_stays(shape):
    found, data = told(shape, "name: a\nsize: many\nrows: [a, [b], c]\ncounts: {a: x, b: 1}\nextra: 1\n")
    assert len(found) == 4
    assert data == {"name": "a", "rows": ["a", None, "c"], "counts": {"b": 1}}


@pytest.mark.parametrize(
    ("raw", "place", "said"),
    [
        (b"name: a\n\tsize: 2\n", (2, 1), "a tab stands here; YAML is indented with spaces"),
        ("name: a\n".encode("utf-16"), (1, 1), "the file is UTF-16 text; save it as UTF-8"),
        (b"name: a\nkind: \xff\n", (2, 1), "the file is not UTF-8 text"),
    ],
)
def test_text_that_is_no_yaml_says_what_it_is(tmp_path, raw, place, said):
    path = tmp_path / "mine.yaml"
    path.write_bytes(raw)
    (problem,) = marked_yaml.read(path).problems
    assert ((problem.line, problem.col), problem.message) == (place, said)


def test_a_file_of_another_type_has_no_data(shape):
    found, data = told(shape, "- a\n")
    assert [message for *_, message in found] == ["the file is a mapping, not a list"] and data is None


def test_references_that_go_round_stay(monkeypatch, tmp_path):
    nested = {"anyOf": [{"type": "string"}, {"type": "array", "items": {"$ref": "#/$defs/nested"}}]}
    (tmp_path / "tree.schema.json").write_text(json.dumps({"$ref": "#/$defs/nested", "$defs": {"nested": nested}}))
    monkeypatch.setattr("hiveweek.shapes.reading.FOLDER", tmp_path)
    tree = shapes.Shape("tree")
    assert told(tree, "[a, [b, [c, [d]]]]\n")[0] == []
    assert [code for _, _, code, _ in told(tree, "[a, [b, {c: d}]]\n")[0]] == ["wrong-type"]


def test_a_file_is_read_by_its_kind(tmp_path):
    path = tmp_path / "kit.yaml"
    path.write_text("kit: {veil: veil, smoker: [a]}\nkits: 1\n")
    document = shapes.read(path, "kit")
    assert [(p.line, p.col, p.code) for p in sorted(document.problems)] == [
        (1, 27, "wrong-type"),
        (2, 1, "unknown-key"),
    ]
    assert document.data == {"kit": {"veil": "veil"}}


SCENARIO = "climate: boreal\ndate: 2026-02-10\nhives: [{id: A, facts: {food.stores_kg: 4}}]\n"


def test_that_a_file_fits_is_kept_and_nothing_else(tmp_path, monkeypatch):
    monkeypatch.delenv("HIVEWEEK_NO_CACHE", raising=False)
    monkeypatch.setenv("HIVEWEEK_CACHE", str(tmp_path))

    def asked(text):
        shape, calls = shapes.Shape("scenario"), []
        validator = shape.validator
        monkeypatch.setattr(
            "hiveweek.shapes.structure.misfits", lambda document, given: calls.append(1) or MISFITS(document, validator)
        )
        return [p.code for p in shape.check(marked_yaml.parse(text))], len(calls)

    assert [asked(SCENARIO), asked(SCENARIO)] == [([], 1), ([], 0)]
    for text in (SCENARIO.replace("stores_kg: 4", "stores_kg: many"), SCENARIO + "scenario: 012\n"):
        assert asked(text) == asked(text) and asked(text)[1] == 1
    assert len(list(tmp_path.iterdir())) == 1
