"""Guessing is slow for each account, and for whoever floods."""

from monitor.access.slowing import Slowing, Turnstile


def test_three_failures_are_free_and_the_next_wait_doubles() -> None:
    """After three failures an account waits 2, 4, 8 s and so on, a minute at most."""
    slowing, now_s, waits = Slowing(), 0.0, []
    for _ in range(10):
        waits.append(slowing.wait_s("robin", now_s))
        now_s += waits[-1]
        slowing.failed("robin", now_s)
    assert waits == [0, 0, 0, 2, 4, 8, 16, 32, 60, 60]


def test_one_account_slows_no_other() -> None:
    """Failures at one name leave the others as they were."""
    slowing = Slowing()
    for _ in range(9):
        slowing.failed("robin", 5.0)
    assert slowing.wait_s("wren", 5.0) == 0
    assert slowing.wait_s("robin", 5.0) == 60


def test_a_success_forgets_and_so_does_a_day() -> None:
    """The right password ends the slowing; a day without a try does too."""
    slowing = Slowing()
    for _ in range(5):
        slowing.failed("robin", 0.0)
        slowing.failed("wren", 0.0)
    slowing.succeeded("robin")
    assert slowing.wait_s("robin", 1.0) == 0
    assert slowing.wait_s("wren", 1.0) == 7
    assert slowing.wait_s("wren", 86_401.0) == 0


def test_made_up_names_do_not_fill_the_memory() -> None:
    """However many names are tried, no more than ten thousand are remembered."""
    slowing = Slowing()
    for number in range(10_050):
        slowing.failed(str(number), float(number) / 100)
    assert len(slowing._failed) == 10_000


def test_a_flood_from_one_address_is_cut_and_others_pass() -> None:
    """One address has twenty tries a minute, all together a hundred."""
    stile = Turnstile()
    own = [stile.passes("10.0.0.1", number / 10) for number in range(30)]
    assert own == [True] * 20 + [False] * 10
    assert stile.passes("10.0.0.2", 3.0)
    assert stile.passes("10.0.0.1", 60.0)
    crowd = Turnstile()
    passed = [crowd.passes(f"10.1.0.{number}", 61.0) for number in range(200)]
    assert passed == [True] * 100 + [False] * 100
