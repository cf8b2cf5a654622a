"""Facts of whole programs, from the standard and from shop floors.

NISTIR 6556 is Kramer, Proctor, Messina, The NIST RS274NGC Interpreter, Version 3, 2000.
Its 2.2.2, 3.1, 3.3, 3.5 and 3.6 were read in a public transcription, not in NIST's own
file; other section numbers are from memory. O numbers, M98, M99, T0404, G50, G96: common
practice, no source. Codes above M200 are invented ones of a cell.
"""

from decimal import Decimal

import pytest

from engine.programs import TURNING, Dialect, ProgramFacts, read_program


def read(text: str, **options: object) -> ProgramFacts:
    return read_program(text.encode(), **options)  # type: ignore[arg-type]


def kinds(facts: ProgramFacts) -> list[str]:
    return [problem.kind for problem in facts.problems]


def notes(facts: ProgramFacts) -> list[str]:
    return [note.kind for note in facts.notes]


def end(text: str, **options: object) -> str | None:
    ending = read(text, **options).ending
    return ending.code if ending else None


# --- the pair of percent signs and the end: NISTIR 6556, 3.1 ---


@pytest.mark.parametrize("code", ["M2", "M30", "m 3 0", "M02"])
def test_percent_signs_are_optional_with_an_end_code(code: str) -> None:
    assert kinds(read(f"G21\nG1 X1 F100\n{code}\n")) == []


def test_percent_signs_are_required_without_an_end_code() -> None:
    assert kinds(read("G21\nG0 X1\n")) == ["no_end"]
    facts = read("%\nG21\nG0 X1\n%\n")
    assert (kinds(facts), facts.ending, facts.close_line) == ([], None, 4)


def test_an_opening_percent_needs_its_closing_one_even_with_an_end_code() -> None:
    facts = read("%\nG21\nM30\n")
    assert kinds(facts) == ["percent"]
    assert (facts.percent_opens, facts.percent_closes) == (True, False)


def test_what_follows_the_second_percent_is_ignored() -> None:
    facts = read("\n \n%\nG20\nM30\n%\nG21\nT9 M6\n%\nGARBAGE?\n\n")
    assert (facts.open_line, facts.close_line, facts.trailing_lines) == (3, 6, 4)
    assert (facts.unit, facts.tools.count, facts.problems.count) == ("in", 0, 0)


def test_a_heading_before_the_first_percent_is_left_out_and_named() -> None:
    facts = read("PART 7140 G OF 2\nT5\n%\nO1\nT1 M6\nM30\n%\n")
    assert (facts.leader_lines, facts.tool_numbers) == (2, (1,))
    assert kinds(facts) == ["percent"]


@pytest.mark.parametrize("text", ["O1\nT1 M6\nM30\n%\n", "T1 M6\nG0 X1\n%", "G? T1 M6\n%\n"])
def test_a_lone_percent_at_the_end_closes(text: str) -> None:
    facts = read(text)
    assert (facts.percent_opens, facts.percent_closes) == (False, True)
    assert facts.tool_numbers == (1,)
    assert "percent" in kinds(facts)


def test_a_number_beside_the_percent_is_read_and_named() -> None:
    facts = read("%O77\nM30\n%\n")
    assert facts.programs.items[0].number == 77
    assert kinds(facts) == ["percent"]


def test_an_empty_text_has_no_end() -> None:
    for text in ("", "\n\n", "(only a comment)\n", "%\n%\n"):
        facts = read(text)
        assert facts.ending is None
        assert (kinds(facts) == []) is text.startswith("%")


# --- which code ends the main program ---


def test_ends_are_listed_in_order_with_their_lines() -> None:
    facts = read("O1\nM98 P2\n/M99\nM30\nO2\nG4 P1\nM99\n")
    ends = [(e.code, e.line, e.program) for e in facts.ends]
    assert ends == [("M99", 3, 1), ("M30", 4, 1), ("M99", 7, 2)]


def test_block_delete_decides_the_end() -> None:
    """Lines with `/` count only with block delete off (NISTIR 6556, 2.2.2)."""
    facts = read("G0 X1\n/M99\nM30\n")
    assert facts.ending is not None
    assert facts.ending_when_deleting is not None
    assert (facts.ending.code, facts.ending_when_deleting.code) == ("M99", "M30")
    assert facts.ending.block_delete
    assert facts.block_delete_lines == 1
    assert facts.after_end is None


def test_a_commented_or_conditional_end_is_none() -> None:
    assert end("G0 X1 (M30)\n; M30\nM99") == "M99"
    assert end("IF [#1 EQ 2] M99\nM30") == "M30"


def test_the_cell_names_codes_of_its_own() -> None:
    text = "G0 X1\nM347\nM99\n"
    assert end(text) == "M99"
    facts = read(text, end_codes=["m 0347"])
    assert [e.code for e in facts.ends] == ["M347", "M99"]
    assert facts.ending is not None
    assert (facts.ending.code, facts.after_end, kinds(facts)) == ("M347", None, [])


def test_a_loop_by_m99_needs_percent_signs_unless_the_cell_allows_it() -> None:
    assert kinds(read("G0 X1\nM99\n")) == ["no_end"]
    assert kinds(read("%\nG0 X1\nM99\n%\n")) == []
    assert kinds(read("G0 X1\nM99\n", end_codes=["M99"])) == []


def test_m99_of_a_subprogram_before_the_main_program_is_not_the_end() -> None:
    facts = read("O2\nG4 P1\nM99\nO1\nM98 P2\nM30\n")
    assert facts.ending is not None
    assert (facts.ending.code, facts.ending.line) == ("M30", 6)
    assert [p.number for p in facts.programs] == [2, 1]
    assert [r.line for r in facts.returns] == [3]


def test_m99_may_jump() -> None:
    facts = read("N10 G0 X1\nM99 P10\n")
    assert facts.ending is not None
    assert facts.ending.jump == 10


def test_text_after_the_end_is_counted_and_never_a_fact() -> None:
    facts = read("G21\nT1 M6\nM30\n(comment)\nT2 M6\n?\nO5\nT3 M6\nM99\n")
    assert facts.after_end is not None
    assert (facts.after_end.line, facts.after_end.lines) == (5, 2)
    assert facts.tool_numbers == (1, 3)
    assert kinds(facts) == []


def test_a_jump_may_lead_past_an_end() -> None:
    facts = read("IF[#1EQ1]GOTO20\nT1 M6\nM99\nN20 T2 M6\nM30\n")
    assert facts.tool_numbers == (1, 2)
    assert (facts.after_end, notes(facts)) == (None, ["flow"])


# --- what it uses ---


def test_units_are_listed_and_the_first_is_the_programs() -> None:
    facts = read("G20\nG1 X1 F10\nG21\nG1 X25.4\nM30")
    assert facts.unit == "in"
    assert [(u.code, u.line) for u in facts.units] == [("G20", 1), ("G21", 3)]
    assert facts.extents["X"].low == facts.extents["X"].high == 1.0
    assert facts.extents["X"].high_mm == 25.4


def test_without_units_nothing_is_in_mm() -> None:
    facts = read("G0 X1\nM30")
    assert (facts.unit, facts.extents["X"].high, facts.extents["X"].high_mm) == (None, 1.0, None)
    assert read("G0 X1\nM30", dialect=Dialect(units="in")).extents["X"].high_mm == 25.4
    assert "late_units" in notes(read("G0 X1\nG21\nM30"))


def test_work_offsets_in_order() -> None:
    """NISTIR 6556, 3.5: G54 to G59; G59.1 to G59.3 from memory; G54.1: common practice."""
    facts = read("G55\nG54.1 P12\nG0 X1\nG55\nG59.3\nG54.1P03\nG540\nM30")
    assert [(o.code, o.line, o.count) for o in facts.work_offsets] == [
        ("G55", 1, 2),
        ("G54.1 P12", 2, 1),
        ("G59.3", 5, 1),
        ("G54.1 P3", 6, 1),
    ]


def test_offsets_written_by_the_program_are_named() -> None:
    facts = read("G21\nG10 L2 P1 X-100 Z5\nG0 X1\nM30")
    assert [w.code for w in facts.offset_writes] == ["G10 L2 P1"]
    assert facts.extents["X"].low == 1.0


def test_t_selects_and_m6_changes() -> None:
    """NISTIR 6556, 3.6 and 3.7."""
    facts = read("T1 M6\nT4\nG0 X1\nM6\nT7\nM30")
    tools = [(t.number, t.line, t.change_line) for t in facts.tools]
    assert tools == [(1, 1, 1), (4, 2, 4), (7, 5, None)]
    assert facts.tool_numbers == (1, 4)


def test_four_digits_name_tool_and_offset_where_there_is_no_m6() -> None:
    facts = read("T0404\nG0 X1\nT0400\nT1216\nM30")
    assert [(t.number, t.offset) for t in facts.tools] == [(4, 4), (4, 0), (12, 16)]
    assert facts.tool_numbers == (4, 12)
    assert read("T0404 M6\nM30").tool_numbers == (404,)
    assert read("T4\nM30").tool_numbers == ()
    assert read("T4\nM30", dialect=TURNING).tool_numbers == (4,)
    assert read("T404\nM30", dialect=TURNING).tools.items[0].offset == 4


def test_speeds_feeds_and_clamps() -> None:
    facts = read("G50 S2400\nG96 S180 M3\nG95 F0.25\nG97 S1200\nG94 F200.\nF200\nM30")
    assert [(s.value, s.surface) for s in facts.speeds] == [(180, True), (1200, False)]
    assert [s.value for s in facts.speed_clamps] == [2400]
    feeds = [(f.value, f.mode) for f in facts.feeds]
    assert feeds == [(Decimal("0.25"), "G95"), (Decimal(200), "G94")]
    assert facts.spindle_top == 2400


def test_the_top_speed_of_a_surface_speed_without_clamp_is_not_known() -> None:
    assert read("G96 S180\nM30").spindle_top is None
    assert read("S800\nS0\nM30").spindle_top == 800
    assert read("G92 S2000\nG96 S180\nM30").spindle_top == 2000


def test_stops_and_codes_of_interest() -> None:
    facts = read(
        "M0\nM01\nG0 X1 M 37 1\n/M374\n(M371)\nM60\nM30\nM371",
        door_codes=["M371", "m0374"],
        clamp_codes=["M262"],
        loader_codes=["M371"],
    )
    assert [(s.code, s.line) for s in facts.stops] == [("M0", 1), ("M1", 2), ("M60", 6)]
    doors = [(u.code, u.line, u.block_delete) for u in facts.codes("door")]
    assert doors == [("M371", 3, False), ("M374", 4, True)]
    assert [u.line for u in facts.codes("loader")] == [3]
    assert facts.codes("clamp") == ()


def test_motion_codes_may_be_of_interest_too() -> None:
    facts = read("G1 X1\nX2\nG01 X3\nM30", loader_codes=["G1", "X3"])
    assert [(u.code, u.line) for u in facts.uses] == [("G1", 1), ("G1", 3), ("X3", 3)]


def test_calls_and_returns() -> None:
    facts = read("O1\nM98 P1000 L5\nG65 P9010 A1.\nM98 P#1\nM30")
    calls = [(c.code, c.program, c.repeats) for c in facts.calls]
    assert calls == [("M98", 1000, 5), ("G65", 9010, 1), ("M98", None, 1)]
    assert {"call_outside", "call_macro", "expression"} <= set(notes(facts))


def test_two_codes_of_one_group_are_a_problem() -> None:
    """NISTIR 6556, 3.4 (modal groups, from memory)."""
    assert kinds(read("G0 G1 X1\nG90 G91\nG17 G21 G90 G1\nM3 M5\nM30")) == ["group"] * 3


def test_problems_are_bounded_with_their_full_count() -> None:
    facts = read("?\n" * 5000 + "M30")
    assert (facts.problems.count, len(facts.problems)) == (5000, 200)
    assert facts.problems.items[0].line == 1


def test_a_flood_of_subprograms_is_bounded() -> None:
    facts = read("".join(f"O{n}\nM98 P{n + 1}\nM99\n" for n in range(1, 3000)) + "M30")
    assert facts.programs.count == 200
    assert "programs" in kinds(facts)


def test_the_hash_is_that_of_the_bytes() -> None:
    import hashlib

    data = b"\xef\xbb\xbf%\r\nM30\x00\r\n%"
    assert read_program(data).sha256 == hashlib.sha256(data).hexdigest()


def test_a_shop_program() -> None:
    """Lower case, tabs, CR LF and LF, macro lines, no last line end: all at once."""
    facts = read(
        "%\r\no7140 (BEARING RETAINER B)\r\n(OP 20)\nn5\tg21 g40 g80\r\nn10 #100=5\n"
        "n15 g55\nt3m6\ns2400m3\n"
        "g0 g43 h3 z50.\ng0x10.y-5.\ng1z-2.f300\nx20.\n/m1\nn90 g28 g91 z0\nm30\n%"
    )
    assert facts.programs.items[0].number == 7140
    assert (facts.lines, facts.problems.count) == (16, 0)
    assert (facts.unit, facts.tool_numbers, facts.spindle_top) == ("mm", (3,), 2400)
    assert [m.code for m in facts.reference_moves] == ["G28"]
    assert (facts.extents["Z"].low, facts.extents["Z"].low_line) == (-2.0, 11)
    assert facts.times.cutting == pytest.approx((52 + 10) / 300 * 60)
