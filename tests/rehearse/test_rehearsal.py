"""A rehearsal from the command line to the files that it leaves."""

import json
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from pymodbus import FramerType
from pymodbus.client import ModbusSerialClient
from pymodbus.pdu.file_message import FileRecord, ReadFileRecordResponse

from forebay.rehearse.serving import Served
from forebay.rig import load
from forebay.shelf import Shelf
from forebay.shelf.local import maybe_iso
from forebay.wire import registers
from keeper.channels import PANEL_MV
from tests.twin.rigs import PUMPING, run_until, steady, twin

POINTS = {row.name: row for row in registers.INPUT_REGISTERS}


@pytest.fixture(scope="module")
def clear_day(tmp_path_factory):
    """A rehearsal under the modelled clear sky with an early fault, as a person runs it."""
    folder = tmp_path_factory.mktemp("clear")
    done = subprocess.run(
        [sys.executable, "-m", "forebay", "rehearse", "--sun", "clear", "--setpoint", "1.0",
         "--fault", "upper-float-cut@10:00", "--out", "out", "--json"],
        cwd=folder, capture_output=True, text=True, timeout=300, check=True)
    return folder / "out", json.loads(done.stdout)


def test_it_leaves_page_shelf_and_report(clear_day):
    folder, found = clear_day
    assert "</html>" in (folder / "review.html").read_text()
    assert (folder / "shelf.sqlite").stat().st_size > 0
    assert json.loads((folder / "rehearsal.json").read_text()) == found


def test_every_key_of_the_json_is_documented(clear_day):
    _, found = clear_day
    page = (Path(__file__).parents[2] / "host" / "docs" / "json.md").read_text()
    told = page.split("## forebay rehearse --json")[1]
    keys = [*found, *found["true_energy_J"], *found["true_volume_L"]]
    assert [key for key in keys if f"`{key}`" not in told] == []


def test_the_json_counts_the_scans_and_gives_the_real_time_factor(clear_day):
    _, found = clear_day
    assert found["scans"] == 864000
    assert found["real_time_factor"] == pytest.approx(
        found["simulated_s"] / found["simulation_wall_s"], rel=1e-3)
    assert found["setpoint_mW"] == 1000


def test_a_cut_float_wire_stops_the_pump_for_good(clear_day):
    _, found = clear_day
    assert "71H-UP" in [one["element"] for one in found["elements_acted"]]
    assert found["true_volume_L"]["up"] < 900
    assert found["balance"]["trips"] == 0


def test_a_foreign_client_reads_values_and_a_journal_file_of_the_running_twin(tmp_path):
    one = twin(tmp_path, steady(800.0))
    run_until(one, PUMPING, 200)
    one.run(3000)
    with Served(one.keeper, one.periods * 100) as port:
        client = ModbusSerialClient(port, framer=FramerType.RTU, timeout=2)
        assert client.connect()
        point = POINTS["panel_mV"]
        reply = client.read_input_registers(point.address, count=2, device_id=1)
        value = client.convert_from_registers(reply.registers, client.DATATYPE.INT32)
        assert value == one.keeper.values[PANEL_MV]
        file_number, size = one.keeper.journal.files()[0]
        words = min(size // 2, 120)
        record = FileRecord(file_number=file_number, record_number=0, record_length=2 * words)
        reply = client.read_file_record([record], device_id=1)
        assert not reply.isError()
        assert isinstance(reply, ReadFileRecordResponse)
        assert reply.records[0].record_data[:4] == b"fbyj"
        client.close()


def test_an_interrupt_leaves_a_usable_shelf(tmp_path):
    with subprocess.Popen(
        [sys.executable, "-m", "forebay", "rehearse", "--out", "out"], cwd=tmp_path,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    ) as run:
        # The simulation is under way once the board has begun its journal.
        while not list((tmp_path / "out").glob("board/t*")) and run.poll() is None:
            time.sleep(0.05)
        run.send_signal(signal.SIGINT)
        out, told = run.communicate(timeout=60)
    assert run.returncode == 130
    assert "interrupted after" in out
    assert "Traceback" not in told
    found = json.loads((tmp_path / "out" / "rehearsal.json").read_text())
    assert found["interrupted"]
    assert 0 < found["simulated_s"] < 86400
    done = subprocess.run(
        [sys.executable, "-m", "forebay", "balance", "--shelf", "out/shelf.sqlite", "--json"],
        cwd=tmp_path, capture_output=True, text=True, timeout=60, check=True)
    assert json.loads(done.stdout)["boots"] == 1


def test_the_shelf_knows_that_it_is_a_rehearsal_and_of_what(clear_day):
    folder, found = clear_day
    with Shelf(folder / "shelf.sqlite", create=False) as shelf:
        told, = shelf.rehearsed(shelf.only_rig())
    assert (told.demo, told.sun, told.setpoint_W, told.hours) == ("hillside", "clear", 1.0, 24.0)
    assert [name for _, name in told.faults] == ["upper-float-cut"]
    assert maybe_iso(told.faults[0][0]) == found["faults"][0]["utc"]
    assert list(told.assumed) == found["assumed"]
    assert told.digest == load().digest
