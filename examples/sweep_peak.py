"""Which peak gives the dose? Compile one day with eleven peaks and plot the DLI of each.

Run it from anywhere; the picture needs matplotlib, the table below it does not:

    python examples/sweep_peak.py
    python examples/sweep_peak.py sweep.svg
"""

# %% The day of the smallest example, with another peak of the blue tubes each time.
import datetime as dt
import sys
from dataclasses import replace
from pathlib import Path

import photoperiod as pp

schedule = pp.load(Path(__file__).parent / "smallest.yaml").schedule
date = dt.date(2027, 3, 2)


def with_peak(light: float) -> pp.Schedule:
    """Return the schedule with another peak of the blue tubes. [fraction of full]"""
    blue = schedule.channels["blue"]
    peaks = (replace(blue.day.peaks[0], light=light),)
    blue = replace(blue, day=replace(blue.day, peaks=peaks))
    return replace(schedule, channels={**schedule.channels, "blue": blue})


# %% The dose that each finished table gives, beside that of its plan.
peaks = [percent / 100 for percent in range(50, 101, 5)]
doses = [pp.compile(with_peak(peak), date).doses()["rock"] for peak in peaks]
low, high = schedule.zones["rock"].dli_band

print("peak   plan  table  mol m-2 d-1")
for peak, dose in zip(peaks, doses, strict=True):
    word = "low" if dose.replay < low else "high" if dose.replay > high else "in the band"
    print(f"{peak:4.0%}  {dose.plan:5.2f}  {dose.replay:5.2f}  {word}")

# %% A picture, where matplotlib is installed.
if len(sys.argv) > 1:
    import matplotlib.pyplot as plt

    figure, axes = plt.subplots(figsize=(6, 4), layout="constrained")
    axes.axhspan(low, high, color="0.9", label="wanted")
    axes.plot(peaks, [dose.plan for dose in doses], "k:", label="plan")
    axes.plot(peaks, [dose.replay for dose in doses], "ko", fillstyle="none", label="table")
    axes.set_xlabel("peak light of the blue tubes [fraction of full]")
    axes.set_ylabel("DLI of the rock [mol m$^{-2}$ d$^{-1}$]")
    axes.legend()
    figure.savefig(sys.argv[1])
