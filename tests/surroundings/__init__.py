"""What the world around the program does to it: disks, folders, signals, streams, locales and cores."""
