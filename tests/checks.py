"""Checks of a command's tests: what fails is told, and all go on."""
failed = 0


def check(what, good, detail=""):
    global failed
    if not good:
        failed += 1
        print(f"not ok: {what}: {detail}")


def status():
    """The exit status of the test."""
    return 1 if failed else 0
