"""One numeric thread: on several, small matrices wait for each other, ten times longer on a busy machine."""

from threadpoolctl import threadpool_limits

one_thread = threadpool_limits.wrap(limits=1, user_api="blas")
