"""Referees that share no code with what they judge: plain arithmetic and general solvers."""
