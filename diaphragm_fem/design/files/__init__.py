"""Files from outside and texts in them: read within limits, told apart, addressed key by key, written."""
