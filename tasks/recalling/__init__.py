"""Settings by exact unit, in words and pictures: noted in one session, restored in the next of the job."""
