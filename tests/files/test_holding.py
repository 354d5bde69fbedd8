import functools
import json
import os
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.errors import FarmFileError
from farmmap.files import bring, holding
from farmmap.files.farm_file import read_farm, write_farm
from farmmap.files.holding import HeldByAnother, held, holder_of, take_hold
from farmmap.files.processes import Process, this_process

HOLD = """
import sys
from farmmap.files.holding import take_hold
hold = take_hold(sys.argv[1])
print("held", flush=True)
sys.stdin.read()
hold.let_go()
"""


@pytest.fixture
def path(tmp_path):
    path = tmp_path / "pipit.gpkg"
    path.write_bytes(b"a farm")
    return path


@pytest.fixture
def other_window(path):
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )
    assert process.stdout.readline() == "held\n"
    yield process
    process.kill()
    process.wait()
    process.stdin.close()
    process.stdout.close()


def hold_file(path):
    return path.with_name(f".{path.name}.held")


def written_by(path, process, seconds_ago=0.0, **said):
    """A hold file as another process would have left it."""
    content = {"user": "anna", "host": "shed", "since": "2026-11-25 17:31", "once": "x"}
    content |= {"pid": process.pid, "machine": process.machine, "started": process.started}
    hold_file(path).write_text(json.dumps(content | said))
    when = hold_file(path).stat().st_mtime - seconds_ago
    os.utime(hold_file(path), (when, when))


def test_the_second_window_is_told_who_holds_it(path):
    assert holder_of(path) is None
    hold = take_hold(path)
    with pytest.raises(HeldByAnother, match="on this computer since 20") as refused:
        take_hold(path)
    assert refused.value.holder == holder_of(path)
    assert refused.value.holder.pid == os.getpid()
    hold.let_go()
    assert holder_of(path) is None
    take_hold(path).let_go()
    assert [entry.name for entry in path.parent.iterdir()] == [path.name]


def test_another_process_holds_it_until_it_lets_go(path, other_window):
    with pytest.raises(HeldByAnother) as refused:
        take_hold(path)
    assert refused.value.holder.pid == other_window.pid
    other_window.stdin.close()
    other_window.wait()
    with take_hold(path):
        assert holder_of(path).pid == os.getpid()


def test_the_hold_of_a_killed_process_is_taken_over(path, other_window):
    other_window.kill()
    other_window.wait()
    assert holder_of(path) is None
    with take_hold(path):
        assert holder_of(path).pid == os.getpid()
    assert [entry.name for entry in path.parent.iterdir()] == [path.name]


@pytest.mark.skipif(not this_process().started, reason="this system does not say when a process started")
def test_a_number_given_to_another_process_since_holds_nothing(path):
    me = this_process()
    written_by(path, Process(me.machine, me.pid, "0123456789ab"))
    with take_hold(path):
        pass


def test_another_machine_holds_it_until_it_has_long_been_silent(path):
    far = Process("ffffffffffff", 1, "0123456789ab")
    written_by(path, far, seconds_ago=holding.SILENT_S - 60)
    with pytest.raises(HeldByAnother, match="open to anna on shed since 2026-11-25 17:31"):
        take_hold(path)
    written_by(path, far, seconds_ago=holding.SILENT_S + 60)
    assert holder_of(path) is None
    with take_hold(path):
        assert holder_of(path).host != "shed"


def test_a_clock_that_is_wrong_by_hours_does_no_harm(path, monkeypatch):
    """Both times are the drive's own: a hold that was just written is not stale because clocks differ."""
    written_by(path, Process("ffffffffffff", 1, ""))
    monkeypatch.setattr(holding.time, "time", lambda: 0.0)
    with pytest.raises(HeldByAnother):
        take_hold(path)


@pytest.mark.parametrize(
    "content", ["", "{", "[]", '{"pid": "x"}', "null", '{"user": null, "since": ["a"]}', "[" * 100_000 + "}"]
)
def test_a_hold_that_cannot_be_read_counts_until_it_is_old(path, content):
    hold_file(path).write_text(content)
    with pytest.raises(HeldByAnother, match=r"is open to somebody\. Until"):
        take_hold(path)
    when = hold_file(path).stat().st_mtime - holding.SILENT_S - 60
    os.utime(hold_file(path), (when, when))
    take_hold(path).let_go()
    assert not hold_file(path).exists()


def test_a_sign_of_life_keeps_it_and_makes_it_again(path):
    hold = take_hold(path)
    when = hold_file(path).stat().st_mtime - 1000
    os.utime(hold_file(path), (when, when))
    hold.refresh()
    assert hold_file(path).stat().st_mtime > when + 900
    hold_file(path).unlink()
    hold.refresh()
    assert holder_of(path).pid == os.getpid()
    hold.let_go()


def test_a_hold_that_was_taken_over_is_neither_refreshed_nor_let_go(path):
    hold = take_hold(path)
    written_by(path, Process("ffffffffffff", 1, ""))
    with pytest.raises(HeldByAnother, match="anna"):
        hold.refresh()
    hold.let_go()
    assert holder_of(path).user == "anna"


def test_of_many_that_take_over_a_stale_hold_only_one_has_it(path):
    for _ in range(20):
        written_by(path, Process("ffffffffffff", 1, ""), seconds_ago=1000)
        holds, refused = [], []
        together = threading.Barrier(8)

        def take(holds=holds, refused=refused, together=together):
            together.wait()
            try:
                holds.append(take_hold(path))
            except HeldByAnother as error:
                refused.append(error)

        threads = [threading.Thread(target=take) for _ in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert (len(holds), len(refused)) == (1, 7)
        holds[0].let_go()
        assert [entry.name for entry in path.parent.iterdir()] == [path.name]


def test_a_right_to_take_over_that_a_killed_process_left_is_itself_taken_over(path):
    written_by(path, Process("ffffffffffff", 1, ""), seconds_ago=1000)
    found = holding._content(hold_file(path))
    claim = hold_file(path).with_name(f"{hold_file(path).name}-{holding.hashlib.sha256(found).hexdigest()[:12]}")
    claim.write_bytes(hold_file(path).read_bytes())
    with pytest.raises(HeldByAnother):
        take_hold(path)
    os.utime(claim, (0, 0))
    with take_hold(path):
        assert not claim.exists()


def test_a_link_to_a_farm_is_the_same_farm(path):
    link = path.with_name("link.gpkg")
    link.symlink_to(path)
    with take_hold(link), pytest.raises(HeldByAnother):
        take_hold(path)


@pytest.mark.parametrize("odd", ["link", "folder", "pipe"])
def test_what_is_no_file_but_has_the_name_of_the_hold_is_told_of(path, odd):
    if odd == "link":
        hold_file(path).symlink_to(path.with_name("nowhere"))
    elif odd == "folder":
        hold_file(path).mkdir()
    elif hasattr(os, "mkfifo"):
        os.mkfifo(hold_file(path))
    else:
        pytest.skip("no pipes with names here")
    with pytest.raises(FarmFileError, match=r"\.pipit\.gpkg\.held there is not the file it should be; delete it"):
        take_hold(path)
    assert holder_of(path) is None


def test_a_hold_file_that_is_there_and_not_there_is_given_up(path, monkeypatch):
    """As on a drive whose folder is shown as it was some time ago."""
    monkeypatch.setattr(holding, "_TRYING_S", 0.05)
    monkeypatch.setattr(holding, "_made", lambda _place, _content: False)
    with pytest.raises(FarmFileError, match="may only be looked at"):
        take_hold(path)


def aged(path):
    when = hold_file(path).stat().st_mtime - holding.SILENT_S - 60
    os.utime(hold_file(path), (when, when))
    return when


def renewed(path, when):
    """Whether the hold gives a sign of life before long."""
    until = time.monotonic() + 20
    while hold_file(path).stat().st_mtime < when + holding.SILENT_S and time.monotonic() < until:
        time.sleep(0.01)
    return hold_file(path).stat().st_mtime >= when + holding.SILENT_S


def test_while_a_block_of_code_runs_signs_of_life_are_given(path):
    with held(path, every_s=0.02):
        assert renewed(path, aged(path))
        hold_file(path).unlink()
        until = time.monotonic() + 20
        while holder_of(path) is None and time.monotonic() < until:
            time.sleep(0.01)
        assert holder_of(path).pid == os.getpid()
    assert [entry.name for entry in path.parent.iterdir()] == [path.name]


def test_where_nothing_can_be_written_it_may_only_be_looked_at(tmp_path):
    with pytest.raises(FarmFileError, match="may only be looked at") as refused:
        take_hold(tmp_path / "no such folder" / "farm.gpkg")
    assert not isinstance(refused.value, HeldByAnother)
    assert holder_of(tmp_path / "no such folder" / "farm.gpkg") is None


@pytest.fixture
def bringing_in(tmp_path, farm):
    """A farm file, and the command that brings a diameter into it."""
    path, source = tmp_path / "pipit.gpkg", tmp_path / "notes.csv"
    write_farm(farm, path)
    source.write_text("tag,date,dbh_cm\n1,2022-05-01,25\n")
    return path, ["bring", str(source), "--into", str(path), "--as", "measurements"]


def test_bringing_in_from_the_command_line_respects_the_hold(bringing_in, tmp_path, farm):
    path, command = bringing_in
    before = path.read_bytes()
    with take_hold(path):
        refused = CliRunner().invoke(main, command)
        assert refused.exit_code == 1
        assert "open to " in refused.output
        assert CliRunner().invoke(main, [*command, "--show-plan"]).exit_code == 0
    assert path.read_bytes() == before
    assert CliRunner().invoke(main, command).exit_code == 0
    assert len(read_farm(path).measurements) == len(farm.measurements) + 1
    assert holder_of(path) is None
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["notes.csv", "pipit.gpkg"]


def test_bringing_in_gives_signs_of_life_however_long_it_takes(bringing_in, monkeypatch):
    path, command = bringing_in
    read, signs = bring.read_source, []

    def slowly(*arguments, **more):
        signs.append(renewed(path, aged(path)))
        return read(*arguments, **more)

    monkeypatch.setattr(bring, "read_source", slowly)
    monkeypatch.setattr(holding, "held", functools.partial(held, every_s=0.02))
    assert CliRunner().invoke(main, command).exit_code == 0
    assert signs == [True]


def test_a_farm_taken_over_while_rows_were_brought_in_is_left_alone(bringing_in, monkeypatch):
    path, command = bringing_in
    read, before = bring.read_source, path.read_bytes()

    def asleep(*arguments, **more):
        written_by(path, Process("ffffffffffff", 1, ""))
        return read(*arguments, **more)

    monkeypatch.setattr(bring, "read_source", asleep)
    refused = CliRunner().invoke(main, command)
    assert refused.exit_code == 1
    assert "open to anna on shed" in refused.output
    assert path.read_bytes() == before
    assert holder_of(path).user == "anna"
