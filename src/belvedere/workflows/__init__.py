"""One module per station of the job: load, compute, save."""
