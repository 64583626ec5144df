"""How long `measure` takes against decoding alone, and whether memory stays flat; prints ratios.

    python tests/speed/measure_speed.py CLIP [--threads N]

Decodes CLIP through PyAV alone, measures it, and decodes it again, in one process with the same
threads; then measures a copy five times as long (the same packets, one after the other) in a process
of its own to compare the peak of memory with that of a process that measures CLIP once.
"""

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from fractions import Fraction
from pathlib import Path

import av

from puttvision.putt.measure import Options, measure_clip


def decode_s(path: Path, threads: int) -> float:
    """Seconds of wall time to decode every picture of a clip through PyAV alone."""
    start = time.perf_counter()
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        stream.thread_type = "AUTO"
        stream.codec_context.thread_count = threads
        for _ in container.decode(stream):
            pass
    return time.perf_counter() - start


def measure_s(path: Path, threads: int) -> tuple[float, int]:
    """Seconds of wall time to measure a clip, and how many putts it holds."""
    start = time.perf_counter()
    putts = measure_clip(path, Options(threads=threads)).sheet.putts
    return time.perf_counter() - start, len(putts)


def lengthen(path: Path, out: Path, times: int) -> None:
    """Write the packets of a clip ``times`` times over, without coding them again."""
    with av.open(str(out), "w") as target:
        stream = None
        offset = 0
        for _ in range(times):
            with av.open(str(path)) as source:
                video = source.streams.video[0]
                if stream is None:
                    stream = target.add_stream_from_template(video)
                    stream.time_base = video.time_base
                end = offset
                for packet in source.demux(video):
                    if packet.dts is None:
                        continue
                    packet.pts += offset
                    packet.dts += offset
                    end = max(end, packet.pts + (packet.duration or 0))
                    packet.stream = stream
                    packet.time_base = Fraction(video.time_base)
                    target.mux(packet)
                offset = end


def peak_mb(path: Path) -> float:
    """Peak resident memory in MiB of a fresh process that measures a clip."""
    code = (
        "import resource, sys; from pathlib import Path; from puttvision.putt.measure import measure_clip; "
        "measure_clip(Path(sys.argv[1])); print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True)
    return float(done.stdout.split()[-1])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("clip", type=Path)
    parser.add_argument("--threads", type=int, default=0)
    parser.add_argument("--times", type=int, default=5)
    args = parser.parse_args()
    before = decode_s(args.clip, args.threads)
    measured, n_putts = measure_s(args.clip, args.threads)
    after = decode_s(args.clip, args.threads)
    decoded = (before + after) / 2
    print(f"{args.clip.name}: {n_putts} putts; decoding alone varied by {abs(before - after) / decoded:.0%}")
    print(f"measure over decode, wall time: {measured / decoded:.2f}")
    one = peak_mb(args.clip)
    with tempfile.TemporaryDirectory() as folder:
        long = Path(folder) / f"{args.clip.stem}_long.mp4"
        lengthen(args.clip, long, args.times)
        many = peak_mb(long)
    print(f"peak memory: {one:.0f} MiB; {args.times} times as long: {many:.0f} MiB; ratio {many / one:.2f}")
    print(f"this process: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")


if __name__ == "__main__":
    main()
