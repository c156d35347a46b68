"""What is wrong with this room today? One page a room, to read and to print."""
