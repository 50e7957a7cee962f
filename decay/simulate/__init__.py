"""An invented evacuation with known truth: `Job` says what is done, `run` does it, `write_log` writes it down."""

from decay.simulate.apparatus import Ambient, Gauge, Pump, Rig
from decay.simulate.job import Job, Step
from decay.simulate.job_file import JobFile, read_job_file
from decay.simulate.kinds import Gas, Place, StepKind
from decay.simulate.log_file import log_text, truth_path, truth_text, write_log
from decay.simulate.log_shape import SHAPES, LogShape, TimeForm
from decay.simulate.quick_job import adjusted
from decay.simulate.simulated_run import HoldTruth, SimulatedRun, StepTruth, run
from decay.simulate.sources import FreeWater, Leak, Pool, Surface

__all__ = [
    "SHAPES",
    "Ambient",
    "FreeWater",
    "Gas",
    "Gauge",
    "HoldTruth",
    "Job",
    "JobFile",
    "Leak",
    "LogShape",
    "Place",
    "Pool",
    "Pump",
    "Rig",
    "SimulatedRun",
    "Step",
    "StepKind",
    "StepTruth",
    "Surface",
    "TimeForm",
    "adjusted",
    "log_text",
    "read_job_file",
    "run",
    "truth_path",
    "truth_text",
    "write_log",
]
