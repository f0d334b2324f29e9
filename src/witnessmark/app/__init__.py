"""One function per use-case; the only thing doors call. Here the floors beneath are put together, and nowhere else."""
