"""From a test piece to what its wood has taught."""
