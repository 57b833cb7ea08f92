"""Storey plans from the command line: beside the sheets, as DXF where asked for, on layers of one's own."""

from __future__ import annotations

import sys
from pathlib import Path

import ezdxf
import pytest

from ifcgrid.cli import main
from ifcgrid.domain.errors import OutputError, SystemDataError
from ifcgrid.pipeline.storey_plans import check_plans

MODELS = Path(__file__).resolve().parents[3] / "models"


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("plans")
    layers = folder / "office.toml"
    layers.write_text('["main runner"]\nlayer = "OFFICE-MAIN"\n', encoding="utf-8")
    given = [MODELS / "gatehouse.ifc", "-o", folder / "out.ifc", "--sheets", folder / "sheets"]
    code = main(["build", *map(str, given), "--dxf", "--layers", str(layers)])
    assert code in (0, 1)
    return folder


def test_build_writes_the_plan_as_svg_pdf_and_dxf_on_the_layers_of_the_office(built: Path) -> None:
    plans = sorted(p.name for p in (built / "sheets").glob("plan-*"))
    assert plans == ["plan-Ground-level.dxf", "plan-Ground-level.pdf", "plan-Ground-level.svg"]
    doc = ezdxf.readfile(built / "sheets" / "plan-Ground-level.dxf")
    assert len(doc.modelspace().query('LINE[layer=="OFFICE-MAIN"]')) > 0
    assert "A-CLNG-GRID" not in doc.layers
    assert doc.header["$INSUNITS"] == 1  # the model is in feet


def test_setout_draws_the_same_plan_from_the_written_model(built: Path, tmp_path: Path) -> None:
    assert main(["setout", str(built / "out.ifc"), "-o", str(tmp_path), "--dxf"]) in (0, 1)
    first = ezdxf.readfile(built / "sheets" / "plan-Ground-level.dxf").modelspace()
    again = ezdxf.readfile(tmp_path / "plan-Ground-level.dxf").modelspace()
    for layer in ("A-CLNG-TEES", "A-CLNG-TEES-SCND", "A-CLNG-TRIM"):
        one, two = (len(space.query(f'LINE[layer=="{layer}"]')) for space in (first, again))
        assert one == two > 0
    assert len(again.query('INSERT[name=="HANGER"]')) == len(first.query('INSERT[name=="HANGER"]'))
    widths = [
        sorted(round(float(d.get_measurement()), 3) for d in s.query("DIMENSION")) for s in (first, again)
    ]
    assert widths[0] == widths[1]


def test_without_dxf_plans_have_the_formats_of_the_sheets(built: Path, tmp_path: Path) -> None:
    assert main(["setout", str(built / "out.ifc"), "-o", str(tmp_path), "--format", "svg"]) in (0, 1)
    assert [p.suffix for p in tmp_path.glob("plan-*")] == [".svg"]


@pytest.mark.parametrize(
    ("command", "told"),
    [
        (["build", "gatehouse.ifc", "-o", "OUT/x.ifc", "--dxf"], "without --sheets DIR"),
        (["setout", "gatehouse.ifc", "-o", "OUT", "--room", "G1", "--dxf"], "leave out --room"),
        (["setout", "gatehouse.ifc", "-o", "OUT", "--dxf", "--layers", "none.toml"], "cannot be read"),
    ],
)
def test_what_cannot_be_drawn_is_said_before_the_work(command, told, tmp_path, capsys) -> None:
    words = [str(MODELS / w) if w.endswith("house.ifc") else w.replace("OUT", str(tmp_path)) for w in command]
    assert main(words) == 2
    assert told in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_wrong_table_names_its_file_and_row(tmp_path: Path) -> None:
    table = tmp_path / "office.toml"
    table.write_text("[light]\nweight = 0.33\n", encoding="utf-8")
    with pytest.raises(SystemDataError, match=r"office\.toml: \[light\]: weight is 0\.33"):
        check_plans(False, table)
    table.write_bytes(b"\xff\xfe")
    with pytest.raises(OutputError, match="it is no UTF-8 text"):
        check_plans(False, table)


def test_without_the_library_dxf_is_refused_before_the_work_and_svg_is_not(monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "ezdxf", None)
    with pytest.raises(OutputError, match=r"pip install 'ifcgrid\[drawings\]'"):
        check_plans(True)
    assert check_plans(False).formats == ("svg",)
