"""An invented evacuation with known truth: `Job` says what is done, `run` does it, `write_log` writes it down."""

from decay.simulation.apparatus import Ambient, Gauge, Pump, Rig
from decay.simulation.job import Job, Step
from decay.simulation.job_file import JobFile, read_job_file
from decay.simulation.kinds import Gas, Place, StepKind
from decay.simulation.log_file import log_text, truth_path, truth_text, write_log
from decay.simulation.log_shape import SHAPES, LogShape, TimeForm
from decay.simulation.ready_jobs import adjusted
from decay.simulation.simulated_run import HoldTruth, SimulatedRun, StepTruth, run
from decay.simulation.sources import FreeWater, Leak, Pool, Surface
