"""The parts of the Job page in which a job's notes are typed."""
