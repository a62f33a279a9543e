"""From bytes to plain data that knows its places."""
