"""Measures the whole way from a file to a file with ceilings against the least that it can take.

python scripts/bench.py build [--rooms 1000] [--detail grid panels] [--repeats 3] [--many 4000]

For each detail three things are measured in turn, each in a process of its own and after
its imports, the whole round as often as `--repeats` says; the median round counts:

- the floor: a lazy open of the input, and a plain write (with fsync) of the output's bytes;
- the build: open, read rooms and obstacles, lay out, judge, write the file;
- one by one: the rows of that build made with one create_entity each in the open model, and
  the model written, without what came before.

Then rooms are multiplied, to see by the processor's time whether a room costs more in a large
model. Times are those of this machine and this run; only ratios within one run mean anything.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

__all__ = ["main"]

_FURNITURE = 45
"""Pieces of furniture a room: 1,000 rooms make a model of about 30 MB."""

_TIME = "2024-01-01T00:00:00"
_STAGES = ("open", "read", "lay out", "judge", "write")


def _timed(stages: dict[str, float], name: str, run: Callable[[], Any]) -> Any:
    begin, worked = time.perf_counter(), time.process_time()
    result = run()
    stages[name] = time.perf_counter() - begin
    stages["processor"] = stages.get("processor", 0.0) + time.process_time() - worked
    return result


def _floor(source: Path, target: Path) -> dict[str, float]:
    import ifcopenshell

    content = target.read_bytes()
    stages: dict[str, float] = {}

    def write() -> None:
        with target.with_suffix(".plain").open("wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())

    held = _timed(stages, "open", lambda: ifcopenshell.open(str(source), lazy=True))
    _timed(stages, "write", write)
    target.with_suffix(".plain").unlink()
    del held
    return stages


def _build(source: Path, target: Path, detail: str) -> dict[str, float]:
    from ifcgrid.ifc.project import open_model
    from ifcgrid.ifc.writing.write import write_file
    from ifcgrid.pipeline.collecting import without_collection
    from ifcgrid.pipeline.flow import lay_out, read_intake
    from ifcgrid.pipeline.judging import judge

    stages: dict[str, float] = {}
    with without_collection():
        model = _timed(stages, "open", lambda: open_model(source, is_lazy=True))
        intake = _timed(stages, "read", lambda: read_intake(model))
        ceilings, failed = _timed(stages, "lay out", lambda: lay_out(intake))
        findings = _timed(stages, "judge", lambda: judge(ceilings, intake.obstacles))
        report = _timed(
            stages,
            "write",
            lambda: write_file(
                model, ceilings, findings, target, timestamp=_TIME, detail=detail, sink="text"
            ),
        ).written
    if failed or not ceilings:
        raise SystemExit(f"{len(failed)} rooms got no ceiling: {failed[:1]}")
    parts = ("covering", "assembly", "setout", "type", "filled", "interference")
    stages["elements"] = sum(n for part, n in report.counts.items() if part not in parts)
    return stages


def _one_by_one(source: Path, target: Path, detail: str) -> dict[str, float]:
    import gc

    from ifcgrid.ifc.project import open_model
    from ifcgrid.ifc.writing.compile import compile_ceilings
    from ifcgrid.ifc.writing.context import read_context
    from ifcgrid.ifc.writing.model_sink import write_rows
    from ifcgrid.ifc.writing.save import save_model
    from ifcgrid.pipeline.flow import lay_out, read_intake

    gc.disable()
    model = open_model(source)
    ceilings, _ = lay_out(read_intake(model))
    rows = compile_ceilings(read_context(model.file, ceilings, ()), ceilings, (), detail).rows
    stages: dict[str, float] = {"rows": len(rows)}
    _timed(stages, "create", lambda: write_rows(model.file, rows))
    plain = target.with_name("one-by-one.ifc")
    _timed(stages, "write", lambda: save_model(model.file, plain, timestamp=_TIME))
    plain.unlink()
    return stages


def _in_process(what: str, source: Path, target: Path, detail: str) -> dict[str, float]:
    """Runs one measurement in a process of its own; its stages and its greatest memory in MB."""
    command = [sys.executable, __file__, what, str(source), str(target), detail]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"{what} failed:\n{done.stderr}{done.stdout}")
    stages: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return stages


def _total(stages: Mapping[str, float]) -> float:
    return sum(stages[name] for name in _STAGES if name in stages)


def _median(rounds: Sequence[float]) -> str:
    return f"{statistics.median(rounds):.1f} (from {min(rounds):.1f} to {max(rounds):.1f})"


def _measure(source: Path, folder: Path, detail: str, repeats: int) -> float:
    """Prints one detail's numbers; gives the processor's seconds of the build in the median."""
    target = folder / f"{detail}.ifc"
    over, worked, builds = [], [], []
    for _ in range(repeats):
        build = _in_process("build", source, target, detail)
        floor = _in_process("floor", source, target, detail)
        builds.append(build)
        over.append(_total(build) / _total(floor))
        worked.append(build["processor"] / floor["processor"])
    one = _in_process("one-by-one", source, target, detail)
    created = one["create"] + one["write"]
    slower = [created / _total(b) for b in builds]
    build = sorted(builds, key=_total)[len(builds) // 2]
    print(f"{detail}: {build['elements']:,.0f} elements, {one['rows']:,.0f} entities")
    print(f"  output {target.stat().st_size / 1e6:,.0f} MB; floor {_total(floor):.2f} s in the last round")
    print("  build " + ", ".join(f"{name} {build[name]:.2f}" for name in _STAGES) + " s")
    print(f"  build over the floor {_median(over)}, by processor time {_median(worked)}; aim: at most 3")
    print(f"  one by one {created:.1f} s; over the build {_median(slower)}; aim: at least 15")
    print(f"  one by one over our writing {created / build['write']:.1f}")
    work = one["processor"] / statistics.median(b["processor"] for b in builds)
    print(f"  one by one over the build by processor time {work:.1f}")
    print(f"  peak memory: build {build['peak']:,.0f} MB, one by one {one['peak']:,.0f} MB", flush=True)
    return statistics.median(b["processor"] for b in builds)


def measure_builds(rooms: int, details: Sequence[str], repeats: int, many: int) -> None:
    """Prints all numbers."""
    from bench_model import write_bench_model

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        source = folder / "bench.ifc"
        write_bench_model(source, rooms, _FURNITURE)
        print(f"{rooms:,} rooms in {source.stat().st_size / 1e6:.0f} MB, IFC4, lay-in-600x600", flush=True)
        taken = {detail: _measure(source, folder, detail, repeats) for detail in details}
        if many:
            large = folder / "large.ifc"
            write_bench_model(large, many, _FURNITURE)
            for detail in details:
                build = _in_process("build", large, folder / "large-out.ifc", detail)
                ratio = build["processor"] / many / (taken[detail] / rooms)
                print(
                    f"{detail}: a room of {many:,} costs {ratio:.2f} of one of {rooms:,}   aim: at most 1.1"
                )


def main(arguments: Sequence[str]) -> int:
    """Runs the benchmark."""
    parser = argparse.ArgumentParser(
        prog="bench.py build", description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--rooms", type=int, default=1000)
    parser.add_argument("--detail", nargs="+", default=["grid", "panels"], choices=["grid", "panels"])
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--many", type=int, default=4000, help="rooms of the large model; 0 for none")
    given = parser.parse_args(arguments)
    measure_builds(given.rooms, given.detail, given.repeats, given.many)
    return 0


def _child(what: str, source: str, target: str, detail: str) -> None:
    if what == "floor":
        stages = _floor(Path(source), Path(target))
    else:
        stages = {"build": _build, "one-by-one": _one_by_one}[what](Path(source), Path(target), detail)
    stages["peak"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    print(json.dumps(stages))


if __name__ == "__main__":
    _child(*sys.argv[1:])
