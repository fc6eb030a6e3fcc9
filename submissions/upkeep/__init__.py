"""How the school's computer fares, for director and technician: clock, disk, worker, what is deleted."""
