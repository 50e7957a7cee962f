"""During the job: follow a log that grows, and say at each look what its hold shows so far."""

from decay.watch.follow import Screen, follow, replay
from decay.watch.look import Decision, Look, Status
from decay.watch.sequence import Watcher
from decay.watch.tail import FileTail, Source, StreamTail
