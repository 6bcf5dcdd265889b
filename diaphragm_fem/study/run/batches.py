"""How many cases go into one task."""

BATCH_SECONDS = 0.5
MOST_TASKS_A_SECOND = 100  # a Dask scheduler bears a few hundred
LARGEST_BATCH = 512
TASKS_PER_WORKER = 3
FIRST_BATCHES = 64


def batch_size(case_seconds: float | None, left: int, workers: int, taken: int) -> int:
    """Cases for the next task, at least 1.

    A task lasts BATCH_SECONDS, less toward the end, so that no worker waits long for another's last one, but never so
    little that more than MOST_TASKS_A_SECOND of them come in. While no case was solved yet it feels its way: 1, 2,
    4, ...

    case_seconds  seconds a case takes, None while unknown; left: cases not yet in a task; taken: tasks that came back.
    """
    if case_seconds is None:
        return min(2**taken, FIRST_BATCHES)
    case_seconds = max(case_seconds, 1e-6)
    least = workers / MOST_TASKS_A_SECOND / case_seconds
    share = left / (workers * TASKS_PER_WORKER)
    return max(int(min(max(share, least), max(BATCH_SECONDS / case_seconds, least), LARGEST_BATCH)), 1)
