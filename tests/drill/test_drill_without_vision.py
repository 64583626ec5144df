"""The drill engine runs where neither OpenCV nor PyAV nor numpy is installed."""

import subprocess
import sys

PROGRAM = """
import importlib.abc, sys

class Absent(importlib.abc.MetaPathFinder):
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {"cv2", "av", "numpy", "scipy", "skimage", "filterpy", "matplotlib"}:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)

sys.meta_path.insert(0, Absent())
try:
    import cv2
except ModuleNotFoundError:
    pass
else:
    sys.exit("the block does not work")

from puttvision.drill.catalogue import load, names
from puttvision.drill.describe import describe
from puttvision.drill.drawing import as_svg, as_text
from puttvision.drill.scorecard import score
from puttvision.putts import Putt

putts = [Putt(number=n, outcome="holed", gate_result="clear") for n in range(1, 61)]
for name in names():
    rules = load(name)
    assert describe(rules) and as_text(rules) and as_svg(rules)
    score(rules, putts).to_json()
loaded = {name.split(".")[0] for name in sys.modules}
print(score(load("nine-six-three"), putts).state, sorted(loaded & {"cv2", "av", "numpy"}))
"""


def test_engine_runs_without_opencv_pyav_and_numpy():
    done = subprocess.run([sys.executable, "-c", PROGRAM], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "finished []"
