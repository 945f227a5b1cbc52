"""Everything that touches a disk: captures, the library, the job folder, safe writing."""
