"""The command that reads a list in a terminal: its JSON, its table, its batches and its refusals."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

LIST = "1 Kick\n2 OH L/R\n3 Zorblax\n4 Bass DI\nTotal: 5"


def run(*arguments: str) -> str:
    out = io.StringIO()
    call_command("read_instruments", *arguments, stdout=out)
    return out.getvalue()


def written(folder: Path, raw: bytes, name: str = "list.txt") -> str:
    path = folder / name
    path.write_bytes(raw)
    return str(path)


def test_the_json_holds_sources_non_inputs_and_questions_with_offsets(tmp_path: Path) -> None:
    answer: dict[str, list[dict[str, Any]]] = json.loads(run(written(tmp_path, LIST.encode()), "--json"))
    assert set(answer) == {"sources", "not_inputs", "questions"}
    keys = {"start", "as_written", "source", "family", "count", "channels", "pickup"}
    assert all(set(source) == keys for source in answer["sources"])
    assert [source["channels"] for source in answer["sources"]] == [1, 2, 1]
    assert [question["as_written"] for question in answer["questions"]] == ["Zorblax"]
    assert {"start": LIST.index("Total"), "as_written": "Total: 5", "why": "total"} in answer["not_inputs"]
    for part in (part for parts in answer.values() for part in parts):
        assert LIST[part["start"] : part["start"] + len(part["as_written"])] == part["as_written"]


def test_without_json_it_prints_a_table_and_asks_in_words(tmp_path: Path) -> None:
    table = run(written(tmp_path, LIST.encode()))
    assert "drum overheads" in table
    assert "Question: what is 'Zorblax'?" in table
    assert "No input (total): Total: 5" in table


def test_a_minus_reads_standard_input(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO("Flöte".encode()), encoding="utf-8"))
    assert json.loads(run("-", "--json"))["sources"][0]["source"] == "flute"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_files_in_other_encodings_are_read(tmp_path: Path, encoding: str) -> None:
    answer = json.loads(run(written(tmp_path, "Querflöte, Flügel".encode(encoding)), "--json"))
    assert [source["as_written"] for source in answer["sources"]] == ["Querflöte", "Flügel"]
    assert answer["sources"][0]["start"] == 0


def test_a_batch_gives_a_line_a_list_in_order(tmp_path: Path) -> None:
    lines = [{"id": "a", "text": "kick\nsnare"}, {"id": 7, "text": ""}]
    name = written(tmp_path, "\n".join(map(json.dumps, lines)).encode(), "lists.jsonl")
    answers = [json.loads(line) for line in run("--batch", name).splitlines()]
    assert [answer["id"] for answer in answers] == ["a", 7]
    assert len(answers[0]["sources"]) == 2
    assert answers[1] == {"id": 7, "sources": [], "not_inputs": [], "questions": []}


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"not json", "line 1"),
        (b'{"id": 1, "text": "kick"}\n{"text": "kick"}', "line 2"),
        (b'{"id": 1, "text": 5}', "line 1"),
        (b"[1]", "line 1"),
    ],
)
def test_a_bad_line_of_a_batch_is_named_in_one_sentence(tmp_path: Path, raw: bytes, words: str) -> None:
    with pytest.raises(CommandError, match=words) as refusal:
        run("--batch", written(tmp_path, raw, "lists.jsonl"))
    assert "\n" not in str(refusal.value)


def test_a_missing_file_and_a_picture_are_refused_with_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="give the path"):
        run(str(tmp_path / "nothing.txt"))
    with pytest.raises(CommandError, match="save it as UTF-8"):
        run(written(tmp_path, b"\x81\x8d\x8f\x90\x9d"))
