"""File formats, one file each: takes a Drawing, a Scene or a Table, returns bytes."""
