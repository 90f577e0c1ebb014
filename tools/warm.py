"""Compile the kernels once, saying so, so that the first real run is quick."""

from beadwright.toolpath.read import kernel_is_cached, warm


def main() -> None:
    """Compile what is not yet cached."""
    if not kernel_is_cached():
        print("compiling the kernels (once, some twenty seconds) …", flush=True)
    warm()


if __name__ == "__main__":
    main()
