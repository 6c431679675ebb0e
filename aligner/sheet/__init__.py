"""What is put on paper: the plan before a job, and the alignment sheet after it. Everything here only reads."""
