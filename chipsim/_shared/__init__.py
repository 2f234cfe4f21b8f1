"""What every room uses: arguments made uniform, keys of inputs, calls on executors, files written whole."""
